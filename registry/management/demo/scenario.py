"""The demo's election, run through the registry by the same acts as any other.

Calvenna, its places, people, courts and law are invented. Four constituencies stand
for what an office meets: one clear for disposal with permission, one with a petition
pending, one whose petition was dismissed while the time for appeal runs, and one
declared late, with a permission that was revoked.
"""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from registry.management.demo import (
    daily_keeping,
    eel_sound,
    keys_and_doors,
    out_and_about,
    sampling,
    sealing_stores,
)
from registry.management.demo.files import file_of
from registry.management.demo.keys_and_doors import KEEPERS
from registry.management.demo.scenes import (
    COURT,
    Demo,
    Scene,
    boxes_held,
    boxes_of,
    countersign,
    record_order,
)
from registry.rules.case_events import CaseEventKind
from registry.rules.disposal_facts import Act
from registry.rules.powers import Role
from registry.rules.schedules import ContentKind
from registry.usecases import (
    boxes,
    cases,
    disposals,
    intake_files,
    looks,
    people,
    permissions,
    setting_up,
    shelves,
    stations,
)
from registry.usecases.people import Appointment

SCHEDULE = Path(__file__).resolve().parents[3] / "fixtures/schedules/calvenna-3.toml"
# Known to everybody who reads this file; the demo listens on loopback alone.
PASSWORD = "four lamps on the quay"  # noqa: S105

PEOPLE = (
    ("ada", "Ada Merrow", Role.ADMINISTRATOR, "Registry administrator"),
    ("cora", "Cora Lanyard", Role.CUSTODIAN, "Keeper of the Customs House strong room"),
    ("gil", "Gil Hasp", Role.CUSTODIAN, "Keeper of the Old Granary strong room"),
    ("lena", "Lena Fairlead", Role.LEGAL, "Legal cell"),
    ("aron", "Aron Bollard", Role.AUTHORITY, "Secretary to the Electoral Steward"),
    ("bea", "Bea Capstan", Role.AUTHORITY, "Deputy of the Electoral Steward"),
    ("otto", "Otto Plumb", Role.AUDITOR, "Auditor of the Public Accounts Office"),
    # For a second key, and for a hand-over of charge.
    ("ivo", "Ivo Marline", Role.CUSTODIAN, "Second keeper of the Customs House"),
)
# In the order in which the login line is printed, with what each shows best.
SHOWN_LOG_INS = ("cora", "lena", "aron", "bea", "otto", "ada")

CONSTITUENCIES = {
    "11": ("Harbour Reach", "Isolde Tern", "csv", "customs"),
    "12": ("Quillmoor", "Bram Sedge", "csv", "customs"),
    "13": ("Saltmere", "Petra Marsh", "xlsx", "granary"),
    "14": ("Tarn Vale", "Odo Fell", "csv", "granary"),
}
BAYS = tuple(
    setting_up.BayPlan(
        bay, tuple((str(shelf), 4) for shelf in range(1, 5)), (1, 2, 3, 4)
    )
    for bay in ("A", "B", "C")
)


def load(today: date, now: datetime, say: Callable[[str], object]) -> None:
    """Play the whole story into an empty registry, each act at its time."""
    demo = Demo(today, now, say)
    for scene in sorted(_story(demo), key=lambda scene: (scene.day, scene.hour)):
        scene.play(demo, scene)


def _story(demo: Demo) -> list[Scene]:
    after, ago = demo.after_poll, demo.ago
    return [
        Scene(after(-40), 9, _set_up),
        Scene(after(-30), 10, _appoint),
        Scene(after(3), 18, _record_poll_and_count),
        Scene(after(3), 20, _take_in_first_wave),
        Scene(after(4), 18, _record_declarations),
        Scene(after(13), 20, _take_in_second_wave),
        Scene(after(14), 11, _shelve),
        Scene(after(41), 10, _hear_of_a_petition),
        Scene(after(45), 10, _enter_its_filing),
        Scene(after(53), 9, _record_recess),
        Scene(after(57), 10, _enter_a_petition_late),
        Scene(after(59), 10, _enter_its_admission),
        Scene(after(61), 10, _enter_an_order_to_preserve),
        Scene(after(96), 18, _record_late_declaration),
        Scene(ago(29), 10, _file_the_confirmation),
        Scene(ago(20), 11, _record_order_22),
        Scene(ago(20), 14, _find_a_broken_seal),
        Scene(ago(19), 9, countersign("Order 22")),
        Scene(ago(14), 9, _check_seals_of_the_day),
        Scene(ago(14), 10, _dispose),
        Scene(ago(11), 10, _enter_the_dismissal),
        Scene(ago(9), 11, _record_order_27),
        Scene(ago(8), 9, countersign("Order 27")),
        Scene(ago(6), 11, _record_order_31),
        Scene(ago(5), 9, countersign("Order 31")),
        Scene(ago(3), 15, _revoke_order_27),
        Scene(ago(1), 11, _record_order_33),
        *sealing_stores.scenes(demo),
        *keys_and_doors.scenes(demo),
        *daily_keeping.scenes(demo),
        *out_and_about.scenes(demo),
        *sampling.scenes(demo),
        *eel_sound.scenes(demo),
    ]


# Setting up


def _set_up(demo: Demo, scene: Scene) -> None:
    demo.say("setting up the election, its contests and stations")
    early = datetime.combine(scene.day, time(8), demo.now.tzinfo)
    people.appoint_first_administrator(
        appointment=Appointment(*PEOPLE[0]),
        password=PASSWORD,
        actor=people.terminal(Role.ADMINISTRATOR, account="demo"),
        at=early,
    )
    _know(demo, "ada")
    act = scene.by(demo, "ada")
    schedule = setting_up.adopt_schedule(
        text=SCHEDULE.read_text(encoding="utf-8"), file_name=SCHEDULE.name, **act
    )
    demo.calendar = setting_up.set_up_calendar(
        name=f"Registry of the {COURT}", closed_weekdays=[5, 6], **act
    )
    demo.election = setting_up.set_up_election(
        code="general",
        name="General Election of Calvenna",
        schedule=schedule,
        calendar=demo.calendar,
        **act,
    )
    for number, (name, officer, _, _) in CONSTITUENCIES.items():
        demo.contests[number] = setting_up.set_up_contest(
            election=demo.election,
            constituency_number=number,
            constituency_name=name,
            returning_officer=officer,
            **act,
        )
    for key, name, site in (
        ("customs", "Customs House strong room", "Customs Quay, Harbour Reach"),
        ("granary", "Old Granary strong room", "Mill Lane, Saltmere"),
    ):
        demo.rooms[key] = setting_up.set_up_room(name=name, site=site, bays=BAYS, **act)
    stations.load_stations(
        election=demo.election,
        content=file_of("stations.csv", demo.today),
        file_name="stations.csv",
        **act,
    )


def _know(demo: Demo, username: str) -> None:
    actor = people.person_by_username(username, address="demo", channel="command")
    assert actor is not None
    demo.actors[username] = actor


def _appoint(demo: Demo, scene: Scene) -> None:
    charges: dict[str, dict[str, Any]] = {
        "cora": {"rooms": (demo.rooms["customs"],)},
        "gil": {"rooms": (demo.rooms["granary"],)},
        "ivo": {"rooms": (demo.rooms["customs"],)},
        "lena": {"elections": (demo.election,)},
    }
    for username, name, role, post in PEOPLE[1:]:
        people.appoint_person(
            appointment=Appointment(
                username, name, role, post, **charges.get(username, {})
            ),
            password=PASSWORD,
            **scene.by(demo, "ada"),
        )
        _know(demo, username)


def _record_dates(
    demo: Demo, scene: Scene, numbers: Sequence[str], declared_on: date | None
) -> None:
    source = "Declaration of the result" if declared_on else "Notice of poll and count"
    for number in numbers:
        setting_up.record_contest_dates(
            contest=demo.contests[number],
            days=setting_up.ContestDays(demo.poll, demo.after_poll(3), declared_on),
            source=f"{source}, constituency {number}",
            **scene.by(demo, "ada"),
        )


def _record_poll_and_count(demo: Demo, scene: Scene) -> None:
    _record_dates(demo, scene, list(CONSTITUENCIES), None)


def _record_declarations(demo: Demo, scene: Scene) -> None:
    _record_dates(demo, scene, ["11", "12", "13"], scene.day)


def _record_late_declaration(demo: Demo, scene: Scene) -> None:
    """Tarn Vale was counted again before its result was declared."""
    _record_dates(demo, scene, ["14"], scene.day)


def _record_recess(demo: Demo, scene: Scene) -> None:
    setting_up.record_closed_days(
        calendar=demo.calendar,
        first_day=demo.after_poll(47),
        last_day=demo.after_poll(52),
        reason="Recess; the registry received nothing",
        notification=f"{COURT}, Notification 4 of the year",
        **scene.by(demo, "ada"),
    )


# The strong rooms


def _take_in_first_wave(demo: Demo, scene: Scene) -> None:
    _take_in(demo, scene, "first")


def _take_in_second_wave(demo: Demo, scene: Scene) -> None:
    _take_in(demo, scene, "second")


def _take_in(demo: Demo, scene: Scene, wave: str) -> None:
    """Some slips come on the day of the count, the rest ten days later."""
    for number, (name, _, ending, room) in CONSTITUENCIES.items():
        file_name = f"intake-{number}-{wave}-wave.{ending}"
        read = intake_files.take_intake_file(
            content=file_of(file_name, demo.today),
            file_name=file_name,
            room=demo.rooms[room],
            election="general",
            delivered_by=f"Sector officer, {name}",
            **scene.by(demo, KEEPERS[room]),
        )
        demo.say(
            f"{file_name}: accepted {read.accepted}, refused {len(read.refused)}, "
            f"{read.quarantined} in quarantine"
        )


def _shelve(demo: Demo, scene: Scene) -> None:
    demo.say("putting the boxes on their shelves")
    for key, keeper in KEEPERS.items():
        act = scene.by(demo, keeper)
        free = [
            shelf.number
            for shelf in shelves.free_shelves(room=demo.rooms[key], **act)
            for _ in range(shelf.free)
        ]
        standing = list(boxes_held(demo, scene, keeper, room=demo.rooms[key]))
        for number, shelf in zip(standing, free, strict=False):
            boxes.shelve_box(box=number, shelf=shelf, **act)


def _find_a_broken_seal(demo: Demo, scene: Scene) -> None:
    """A round of the granary."""
    number = boxes_of(demo, scene, "gil", "13", ContentKind.POLL_SLIPS)[0]
    boxes.check_seal(
        container=number,
        number_read="",
        finding="open",
        witness="Gatekeeper of the Old Granary",
        note="The paper seal on the left edge is torn across.",
        **scene.by(demo, "gil"),
    )


# The court


def _hear_of_a_petition(demo: Demo, scene: Scene) -> None:
    demo.say("entering petitions, orders and confirmations")
    demo.cases["12"] = cases.enter_case(
        election=demo.election,
        kind="election-petition",
        forum=COURT,
        parties="Vesper Dunnock v. the Returning Officer of Quillmoor",
        covers=cases.Covers(contests=(demo.contests["12"],)),
        occurred_on=scene.day,
        **scene.by(demo, "lena"),
    )


def _enter_event(
    demo: Demo, scene: Scene, number: str, kind: CaseEventKind, paper: str
) -> None:
    """Enter what happened the day before."""
    cases.record_case_event(
        case=demo.cases[number],
        kind=kind,
        level="first",
        occurred_on=scene.day - timedelta(days=1),
        paper=paper,
        **scene.by(demo, "lena"),
    )


def _enter_its_filing(demo: Demo, scene: Scene) -> None:
    _enter_event(demo, scene, "12", CaseEventKind.FILED, "Diary of the registry")


def _enter_its_admission(demo: Demo, scene: Scene) -> None:
    _enter_event(demo, scene, "12", CaseEventKind.ADMITTED, "Order sheet in EP 7")
    cases.record_court_number(
        case=demo.cases["12"],
        court_number="EP 7 of the year",
        parties="Vesper Dunnock v. the Returning Officer of Quillmoor",
        **scene.by(demo, "lena"),
    )


def _enter_an_order_to_preserve(demo: Demo, scene: Scene) -> None:
    made = scene.day - timedelta(days=1)
    cases.enter_preservation_order(
        election=demo.election,
        issued_by=COURT,
        order_ref="Order 12 in EP 7",
        dated=made,
        from_on=made,
        until_on=None,
        covers=cases.Covers(contests=(demo.contests["12"],)),
        case=demo.cases["12"],
        **scene.by(demo, "lena"),
    )


def _enter_a_petition_late(demo: Demo, scene: Scene) -> None:
    """Saltmere's was filed 17 days before: the register shows when it was known."""
    demo.cases["13"] = cases.enter_case(
        election=demo.election,
        kind="election-petition",
        forum=COURT,
        parties="Corin Avocet v. the Returning Officer of Saltmere",
        covers=cases.Covers(contests=(demo.contests["13"],)),
        first_event=CaseEventKind.FILED,
        occurred_on=demo.after_poll(40),
        court_number="EP 4 of the year",
        **scene.by(demo, "lena"),
    )


def _enter_the_dismissal(demo: Demo, scene: Scene) -> None:
    _enter_event(demo, scene, "13", CaseEventKind.DISMISSED, "Judgment in EP 4")


def _file_the_confirmation(demo: Demo, scene: Scene) -> None:
    cases.record_confirmation(
        contest=demo.contests["11"],
        registry_of=COURT,
        reference="Registry letter 88",
        dated=scene.day - timedelta(days=1),
        covers_through=scene.day - timedelta(days=1),
        **scene.by(demo, "lena"),
    )


# The authority


def _record_order_22(demo: Demo, scene: Scene) -> None:
    demo.say("recording permissions, and disposing of what may go")
    mock = boxes_of(demo, scene, "aron", "11", ContentKind.MOCK_POLL_SLIPS)
    record_order(demo, scene, "Order 22", Act.DESTROY, mock)


def _record_order_27(demo: Demo, scene: Scene) -> None:
    packets = boxes_of(demo, scene, "aron", "14", ContentKind.STATUTORY_PACKET)
    record_order(demo, scene, "Order 27", Act.DESTROY, packets)


def _record_order_31(demo: Demo, scene: Scene) -> None:
    slips = boxes_of(demo, scene, "aron", "11", ContentKind.POLL_SLIPS)
    told = "The Returning Officer has been told the day and the hour."
    record_order(demo, scene, "Order 31", Act.DESTROY, slips, conditions=told)


def _record_order_33(demo: Demo, scene: Scene) -> None:
    """It waits for the second person: a box that the court wants opened."""
    slips = boxes_of(demo, scene, "aron", "12", ContentKind.POLL_SLIPS)[:1]
    record_order(
        demo,
        scene,
        "Order 33",
        Act.OPEN_BOX,
        slips,
        while_still_kept=True,
        conditions="A clerk of the High Bench is present.",
    )


def _revoke_order_27(demo: Demo, scene: Scene) -> None:
    permissions.revoke_permission(
        permission=demo.orders["Order 27"],
        because="Order 29: Tarn Vale was declared late; nothing of it is destroyed "
        "before its slips are free as well.",
        **scene.by(demo, "aron"),
    )


# The end of Harbour Reach's mock-poll slips


def _check_seals_of_the_day(demo: Demo, scene: Scene) -> None:
    act = scene.by(demo, "cora")
    for number in boxes_of(demo, scene, "cora", "11", ContentKind.MOCK_POLL_SLIPS):
        for seal in looks.look_at_box(box=number, **act).seals:
            boxes.check_seal(
                container=number,
                number_read=seal.serial,
                finding="intact-matches",
                witness="Ida Rill",
                **act,
            )


def _dispose(demo: Demo, scene: Scene) -> None:
    mock = boxes_of(demo, scene, "cora", "11", ContentKind.MOCK_POLL_SLIPS)
    disposals.dispose_of(
        plan=disposals.DisposalPlan(
            containers=tuple(mock),
            method="cross-cut shredding",
            level="P-5",
            place="Customs House yard",
            witnesses=("Ida Rill, party agent", "Wim Ferrule, clerk of the court"),
        ),
        permission=demo.orders["Order 22"],
        **scene.by(demo, "cora"),
    )
