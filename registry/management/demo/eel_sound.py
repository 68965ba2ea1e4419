"""A poll that was put off: its stations are at the sealing table just now.

Three stations are sealed, one of them with a slip count that is two short of the
votes; one is half answered, two were not begun.
"""

import csv
from typing import Any

from registry.management.demo.files import file_of
from registry.management.demo.scenes import Demo, Scene
from registry.rules.arrivals import Arrival
from registry.rules.contents import ContentKind
from registry.rules.markings import Marking
from registry.usecases import intake, sealing, setting_up, stations
from registry.usecases.setting_up import ContestDays

NUMBER, NAME = "15", "Eel Sound"
TICKED = ("power-pack", "slips-out", "shown-empty", "marked@poll-slips")
# Station, and the slips and votes of each of its unit sets.
SEALED = {
    "001": ((412, 412),),
    "002": ((207, 207), (188, 188)),
    "003": ((351, 353),),
}


def scenes(demo: Demo) -> list[Scene]:
    """Return how the put-off poll was set up, and how far it is sealed."""
    return [
        Scene(demo.ago(30), 9, _set_up),
        Scene(demo.ago(2), 8, _record_dates),
        Scene(demo.ago(2), 11, _seal),
        Scene(demo.ago(2), 15, _begin_one_more),
    ]


def _set_up(demo: Demo, scene: Scene) -> None:
    act = scene.by(demo, "ada")
    demo.contests[NUMBER] = setting_up.set_up_contest(
        election=demo.election,
        constituency_number=NUMBER,
        constituency_name=NAME,
        returning_officer="Wren Shoal",
        **act,
    )
    stations.load_stations(
        election=demo.election,
        content=file_of("stations-15.csv", demo.today),
        file_name="stations-15.csv",
        **act,
    )


def _record_dates(demo: Demo, scene: Scene) -> None:
    setting_up.record_contest_dates(
        contest=demo.contests[NUMBER],
        days=ContestDays(demo.ago(5), demo.ago(2)),
        source="Notice of the poll that was put off, constituency 15",
        **scene.by(demo, "ada"),
    )


def _seal(demo: Demo, scene: Scene) -> None:
    demo.say("sealing the first stations of a poll that was put off")
    box = intake.log_container(
        arrival=_open_box(demo, scene),
        election=demo.election,
        room=demo.rooms["customs"],
        contest=demo.contests[NUMBER],
        **scene.by(demo, "cora"),
    ).number
    for station, counts in SEALED.items():
        number = _begin(demo, scene, "cora", station)
        answers = {"station:waste": "yes"}
        act = scene.by(demo, "cora")
        units = zip(_units(demo, station, number, act), counts, strict=True)
        for (unit, serials), (slips, votes) in units:
            said = serials | dict.fromkeys(TICKED, "yes")
            said |= {
                "tag": station,
                "uncut@poll-slips": "0",
                "slips@poll-slips": str(slips),
                "self-test@poll-slips": "7",
                "votes": str(votes),
                "seal@poll-slips": f"W15-{unit[3:9]}",
                "die@poll-slips": "Returning Officer 15",
                "paper@poll-slips": "thermal",
                "box@poll-slips": box,
            }
            answers |= {f"{unit}:{name}": text for name, text in said.items()}
        sealing.keep_answers(sealing=number, answers=answers, **act)
        sealing.finish_sealing(sealing=number, **act)


def _begin_one_more(demo: Demo, scene: Scene) -> None:
    number = _begin(demo, scene, "ivo", "004")
    act = scene.by(demo, "ivo")
    ((unit, serials),) = _units(demo, "004", number, act)
    said = {"tag": "004", **serials, **dict.fromkeys(TICKED[:2], "yes")}
    sealing.keep_answers(
        sealing=number,
        answers={f"{unit}:{name}": text for name, text in said.items()},
        **act,
    )


def _open_box(demo: Demo, scene: Scene) -> Arrival:
    return Arrival(
        noun="box",
        kind=ContentKind.POLL_SLIPS,
        received_on=scene.day,
        label="15-P1",
        closed=False,
        written={
            Marking.ELECTION: "General Election of Calvenna",
            Marking.CONSTITUENCY_NUMBER: NUMBER,
            Marking.CONSTITUENCY_NAME: NAME,
            Marking.STATION_NUMBER: "001-006",
            Marking.COUNTING_DATE: f"{scene.day:%d/%m/%Y}",
        },
    )


def _begin(demo: Demo, scene: Scene, who: str, station: str) -> str:
    return sealing.begin_sealing(
        scanned=station,
        room=demo.rooms["customs"],
        contest=demo.contests[NUMBER],
        **scene.by(demo, who),
    ).number


def _units(
    demo: Demo, station: str, number: str, act: dict[str, Any]
) -> list[tuple[str, dict[str, str]]]:
    """Return each unit set at the table with the serials that are read on it."""
    page = sealing.look_at_sealing(sealing=number, **act)
    numbers = [s.absent_field.split(":")[0] for s in page.sections if s.absent_field]
    lines = file_of("stations-15.csv", demo.today).decode().splitlines()
    rows = [row for row in csv.DictReader(lines) if row["Station No"] == station]
    return [
        (
            unit,
            {
                "control-unit": row["Control Unit"],
                "paper-trail-unit": row["Paper Trail Unit"],
            },
        )
        for unit, row in zip(numbers, rows, strict=True)
    ]
