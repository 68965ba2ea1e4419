"""The demo's daily keeping: climate, rounds, paper forms, the paper of the slips."""

from datetime import datetime, time, timedelta
from decimal import Decimal
from functools import partial

from registry.management.demo.keys_and_doors import KEEPERS
from registry.management.demo.scenes import Demo, Scene, boxes_of, seals_on
from registry.rules.schedules import ContentKind
from registry.usecases import boxes, climate, images, paper_forms, round_looks, rounds
from registry.usecases._happened import Happened
from registry.usecases._sightings import Sight

# Week by week, the newest last; °C and per cent. One reading of the Customs House is
# out of limits, and two in a row of the Old Granary.
CLIMATE = {
    "customs": "17.8/44 17.9/45 18.2/46 18.4/47 18.1/46 18.6/51.5 18.2/47 17.9/46 "
    "17.6/45 17.5/44 17.2/44 17.0/43 16.8/43",
    "granary": "16.9/46 17.1/46 17.4/47 17.8/48 18.0/48 18.1/49 17.7/48 17.4/48 "
    "17.2/49 17.0/49 16.8/53 16.7/52 16.5/49",
}
WEEKS = 13


def scenes(demo: Demo) -> list[Scene]:
    """Return what is done day by day in the rooms."""
    ago = demo.ago
    return [
        Scene(demo.after_poll(15), 11, _record_paper),
        *(
            Scene(ago(3 + 7 * (WEEKS - 1 - week)), 8, partial(_read_climate, week))
            for week in range(WEEKS)
        ),
        Scene(ago(95), 12, partial(_walk, "customs", False)),
        Scene(ago(33), 11, partial(_walk, "customs", True)),
        Scene(ago(24), 12, partial(_walk, "granary", False)),
        Scene(ago(46), 9, _give_out_forms),
        Scene(ago(43), 9, _enter_forms),
    ]


def _record_paper(demo: Demo, scene: Scene) -> None:
    for number, paper in (("11", "plain"), ("12", "thermal")):
        images.set_contest_paper(
            contest=demo.contests[number],
            paper=paper,
            source=f"Maker’s sheet of the paper-trail units of constituency {number}",
            **scene.by(demo, "cora"),
        )


def _read_climate(week: int, demo: Demo, scene: Scene) -> None:
    for room, row in CLIMATE.items():
        celsius, humidity = row.split()[week].split("/")
        climate.record_reading(
            room=demo.rooms[room],
            temperature_c=Decimal(celsius),
            humidity_percent=Decimal(humidity),
            instrument=f"Hygrometer {room[0].upper()}H-2, calibrated this year",
            **scene.by(demo, KEEPERS[room]),
        )


def _walk(room: str, contested_only: bool, demo: Demo, scene: Scene) -> None:
    """Walk a room with a printed sheet, typed in shelf by shelf at the end."""
    act = scene.by(demo, KEEPERS[room])
    walked = datetime.combine(scene.day, time(9), demo.now.tzinfo)
    number = rounds.begin_round(
        room=demo.rooms[room],
        contested_only=contested_only,
        witness="Ida Rill, party agent",
        on_paper=True,
        walked_from=walked,
        **act,
    )
    for shelf in round_looks.look_at_round(inspection=number, **act).walk.shelves:
        lines = [
            line
            for each in shelf.containers
            for line in _lines(demo, scene, KEEPERS[room], each.number, each.seals)
        ]
        if lines:
            rounds.type_in(
                inspection=number,
                shelf=shelf.number,
                lines=lines,
                in_vain={},
                seen_at=walked,
                **act,
            )
    rounds.end_round(inspection=number, remarks="All boxes seen.", **act)


def _lines(demo: Demo, scene: Scene, who: str, number: str, seals: int) -> list[Sight]:
    if not seals:
        return [Sight(number)]
    read = seals_on(demo, scene, who, number) if number.startswith("BX") else ("",)
    return [Sight(number, serial, "intact-matches") for serial in read]


def _give_out_forms(demo: Demo, scene: Scene) -> None:
    for kind, count in (("seals", 5), ("moves", 2)):
        numbers = paper_forms.issue_forms(
            room=demo.rooms["customs"],
            kind=kind,
            count=count,
            **scene.by(demo, "cora"),
        )
        for place, number in enumerate(numbers, start=1):
            demo.numbered[f"form {kind} {place}"] = number


def _enter_forms(demo: Demo, scene: Scene) -> None:
    """The network was down the day before: one form whole, one in part, one lost."""
    act = scene.by(demo, "cora")
    looked_at = datetime.combine(
        scene.day - timedelta(days=1), time(11), demo.now.tzinfo
    )
    mock = boxes_of(demo, scene, "cora", "12", ContentKind.MOCK_POLL_SLIPS)
    form = {place: demo.numbered[f"form seals {place}"] for place in range(1, 6)}
    for place, box in enumerate(mock[:2], start=1):
        boxes.check_seal(
            container=box,
            number_read=seals_on(demo, scene, "cora", box)[0],
            finding="intact-matches",
            witness="Ansel Wick",
            happened=Happened(looked_at, form[place]),
            **act,
        )
    paper_forms.mark_entered(form=form[1], **act)
    paper_forms.spoil(
        form=form[3], note="Tea was spilt on it; kept in the forms folder.", **act
    )
    paper_forms.report_lost(
        form=form[4],
        note="Looked for at the desk and in the room; Cora Lanyard had the pad.",
        **act,
    )
