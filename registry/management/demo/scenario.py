"""The demo's election, run through the registry by the same acts as any other.

Calvenna, its places, people, courts and law are invented. Four constituencies stand
for what an office meets: one clear for disposal with permission, one with a petition
pending, one whose petition was dismissed while the time for appeal runs, and one
declared late, with a permission that was revoked.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from registry.management.demo.files import file_of, poll_day
from registry.rules.case_events import CaseEventKind
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Role
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
STEWARD = "Electoral Steward of Calvenna"
COURT = "High Bench of Calvenna"

PEOPLE = (
    ("ada", "Ada Merrow", Role.ADMINISTRATOR, "Registry administrator"),
    ("cora", "Cora Lanyard", Role.CUSTODIAN, "Keeper of the Customs House strong room"),
    ("gil", "Gil Hasp", Role.CUSTODIAN, "Keeper of the Old Granary strong room"),
    ("lena", "Lena Fairlead", Role.LEGAL, "Legal cell"),
    ("aron", "Aron Bollard", Role.AUTHORITY, "Secretary to the Electoral Steward"),
    ("bea", "Bea Capstan", Role.AUTHORITY, "Deputy of the Electoral Steward"),
    ("otto", "Otto Plumb", Role.AUDITOR, "Auditor of the Public Accounts Office"),
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
    setting_up.BayPlan(bay, tuple((str(shelf), 4) for shelf in range(1, 5)))
    for bay in ("A", "B", "C")
)


@dataclass
class Demo:
    """The scenario while it is being played: whom it knows and what it numbered."""

    today: date
    now: datetime
    say: Callable[[str], object]

    def __post_init__(self) -> None:
        self.poll = poll_day(self.today)
        self.actors: dict[str, Actor] = {}
        self.contests: dict[str, str] = {}
        self.rooms: dict[str, str] = {}
        self.election = ""

    def as_of(self, who: str, day: date, hour: int = 10, minute: int = 0) -> dict:
        """Return who acts and when: the moment never lies after now."""
        moment = datetime.combine(day, time(hour, minute), self.now.tzinfo)
        return {"actor": self.actors[who], "at": min(moment, self.now)}

    def ago(self, days: int) -> date:
        """Return the day that lies so many days back."""
        return self.today - timedelta(days=days)

    def after_poll(self, days: int) -> date:
        """Return the day so many days after the poll."""
        return self.poll + timedelta(days=days)


def load(today: date, now: datetime, say: Callable[[str], object]) -> None:
    """Play the whole scenario into an empty registry."""
    demo = Demo(today, now, say)
    for chapter in (
        _set_up,
        _appoint,
        _take_in,
        _shelve,
        _go_to_court,
        _inspect,
        _permit,
        _dispose,
    ):
        chapter(demo)


def _set_up(demo: Demo) -> None:
    demo.say("setting up the election, its contests and stations")
    early = datetime.combine(demo.after_poll(-40), time(9), demo.now.tzinfo)
    people.appoint_first_administrator(
        appointment=Appointment(*_entry("ada")),
        password=PASSWORD,
        actor=people.terminal(Role.ADMINISTRATOR, account="demo"),
        at=early,
    )
    _know(demo, "ada")
    act = demo.as_of("ada", demo.after_poll(-40))
    schedule = setting_up.adopt_schedule(
        text=SCHEDULE.read_text(encoding="utf-8"), file_name=SCHEDULE.name, **act
    )
    calendar = setting_up.set_up_calendar(
        name=f"Registry of the {COURT}", closed_weekdays=[5, 6], **act
    )
    demo.election = setting_up.set_up_election(
        code="general",
        name="General Election of Calvenna",
        schedule=schedule,
        calendar=calendar,
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
    _record_dates(demo)
    setting_up.record_closed_days(
        calendar=calendar,
        first_day=demo.after_poll(47),
        last_day=demo.after_poll(52),
        reason="Recess; the registry received nothing",
        notification=f"{COURT}, Notification 4 of the year",
        **demo.as_of("ada", demo.after_poll(53)),
    )


def _record_dates(demo: Demo) -> None:
    """Three results on the day after the count; Tarn Vale after a recount."""
    counted = demo.after_poll(3)
    for number, contest in demo.contests.items():
        declared = demo.after_poll(96 if number == "14" else 4)
        setting_up.record_contest_dates(
            contest=contest,
            days=setting_up.ContestDays(demo.poll, counted, declared),
            source=f"Declaration of the result, constituency {number}",
            **demo.as_of("ada", declared, 18),
        )


def _entry(username: str) -> tuple[str, str, Role, str]:
    return next(entry for entry in PEOPLE if entry[0] == username)


def _know(demo: Demo, username: str) -> None:
    actor = people.person_by_username(username, address="demo", channel="command")
    assert actor is not None
    demo.actors[username] = actor


def _appoint(demo: Demo) -> None:
    charges: dict[str, dict[str, Any]] = {
        "cora": {"rooms": (demo.rooms["customs"],)},
        "gil": {"rooms": (demo.rooms["granary"],)},
        "lena": {"elections": (demo.election,)},
    }
    for username, name, role, post in PEOPLE[1:]:
        people.appoint_person(
            appointment=Appointment(
                username, name, role, post, **charges.get(username, {})
            ),
            password=PASSWORD,
            **demo.as_of("ada", demo.after_poll(-30)),
        )
        _know(demo, username)


def _keeper(number: str) -> str:
    return "cora" if CONSTITUENCIES[number][3] == "customs" else "gil"


def _take_in(demo: Demo) -> None:
    """Two waves: some slips on the day of the count, the rest ten days later."""
    for wave, days in (("first", 3), ("second", 13)):
        for number, (name, _, ending, room) in CONSTITUENCIES.items():
            file_name = f"intake-{number}-{wave}-wave.{ending}"
            read = intake_files.take_intake_file(
                content=file_of(file_name, demo.today),
                file_name=file_name,
                room=demo.rooms[room],
                election="general",
                delivered_by=f"Sector officer, {name}",
                **demo.as_of(_keeper(number), demo.after_poll(days), 20),
            )
            demo.say(
                f"{file_name}: accepted {read.accepted}, refused {len(read.refused)}, "
                f"{read.quarantined} in quarantine"
            )


def _boxes(demo: Demo, **wanted: str) -> Iterator[str]:
    """Walk a list of boxes page by page, as somebody at the screen would."""
    after: int | None = 0
    while after is not None:
        page = looks.list_boxes(
            wanted=looks.Wanted(**wanted, after=after),
            **demo.as_of("otto", demo.after_poll(14), 9),
        )
        yield from (row.number for row in page.rows)
        after = page.next_after


def _shelve(demo: Demo) -> None:
    demo.say("putting the boxes on their shelves")
    for key, keeper in (("customs", "cora"), ("granary", "gil")):
        act = demo.as_of(keeper, demo.after_poll(14), 11)
        free = [
            shelf.number
            for shelf in shelves.free_shelves(room=demo.rooms[key], **act)
            for _ in range(shelf.free)
        ]
        standing = list(_boxes(demo, room=demo.rooms[key], state="held"))
        for number, shelf in zip(standing, free, strict=False):
            boxes.shelve_box(box=number, shelf=shelf, **act)


def _go_to_court(demo: Demo) -> None:
    demo.say("entering petitions, orders and confirmations")
    pending = cases.enter_case(
        election=demo.election,
        kind="election-petition",
        forum=COURT,
        parties="Vesper Dunnock v. the Returning Officer of Quillmoor",
        covers=cases.Covers(contests=(demo.contests["12"],)),
        occurred_on=demo.after_poll(41),
        **demo.as_of("lena", demo.after_poll(41)),
    )
    for kind, days in ((CaseEventKind.FILED, 44), (CaseEventKind.ADMITTED, 58)):
        cases.record_case_event(
            case=pending,
            kind=kind,
            level="first",
            occurred_on=demo.after_poll(days),
            paper="Diary of the court's registry",
            **demo.as_of("lena", demo.after_poll(days + 1)),
        )
    cases.record_court_number(
        case=pending,
        court_number="EP 7 of the year",
        parties="Vesper Dunnock v. the Returning Officer of Quillmoor",
        **demo.as_of("lena", demo.after_poll(59)),
    )
    cases.enter_preservation_order(
        election=demo.election,
        issued_by=COURT,
        order_ref="Order 12 in EP 7",
        dated=demo.after_poll(60),
        from_on=demo.after_poll(60),
        until_on=None,
        covers=cases.Covers(contests=(demo.contests["12"],)),
        case=pending,
        **demo.as_of("lena", demo.after_poll(61)),
    )
    _petition_dismissed(demo)
    cases.record_confirmation(
        contest=demo.contests["11"],
        registry_of=COURT,
        reference="Registry letter 88",
        dated=demo.ago(30),
        covers_through=demo.ago(30),
        **demo.as_of("lena", demo.ago(29)),
    )


def _petition_dismissed(demo: Demo) -> None:
    """Saltmere: heard of late, so that the register shows when it was known."""
    case = cases.enter_case(
        election=demo.election,
        kind="election-petition",
        forum=COURT,
        parties="Corin Avocet v. the Returning Officer of Saltmere",
        covers=cases.Covers(contests=(demo.contests["13"],)),
        first_event=CaseEventKind.FILED,
        occurred_on=demo.after_poll(40),
        court_number="EP 4 of the year",
        **demo.as_of("lena", demo.after_poll(57)),
    )
    cases.record_case_event(
        case=case,
        kind=CaseEventKind.DISMISSED,
        level="first",
        occurred_on=demo.ago(12),
        paper="Judgment in EP 4",
        **demo.as_of("lena", demo.ago(11)),
    )


def _inspect(demo: Demo) -> None:
    """A round of the granary: one seal is found broken."""
    number = _numbers(demo, "13", ContentKind.POLL_SLIPS)[0]
    boxes.check_seal(
        container=number,
        number_read="",
        finding="open",
        witness="Gatekeeper of the Old Granary",
        note="The paper seal on the left edge is torn across.",
        **demo.as_of("gil", demo.ago(20), 14),
    )


def _numbers(demo: Demo, constituency: str, kind: ContentKind) -> list[str]:
    contest = demo.contests[constituency]
    return list(_boxes(demo, contest=contest, kind=kind.value, state="held"))


def _permission(
    demo: Demo,
    order_ref: str,
    act: Act,
    things: list[str],
    made: int,
    *,
    days: int = 60,
    conditions: str = "",
    while_still_kept: bool = False,
) -> str:
    return permissions.record_permission(
        election=demo.election,
        authority=STEWARD,
        order_ref=order_ref,
        dated=demo.ago(made),
        valid_from=demo.ago(made),
        valid_until=demo.ago(made - days),
        act=act,
        things=things,
        conditions=conditions,
        while_still_kept=while_still_kept,
        **demo.as_of("aron", demo.ago(made), 11),
    )


def _permit(demo: Demo) -> None:
    demo.say("recording permissions")
    slips = _permission(
        demo,
        "Order 31",
        Act.DESTROY,
        _numbers(demo, "11", ContentKind.POLL_SLIPS),
        6,
        conditions="The Returning Officer has been told the day and the hour.",
    )
    permissions.countersign_permission(
        permission=slips, **demo.as_of("bea", demo.ago(5), 9)
    )
    packets = _permission(
        demo,
        "Order 27",
        Act.DESTROY,
        _numbers(demo, "14", ContentKind.STATUTORY_PACKET),
        9,
    )
    permissions.countersign_permission(
        permission=packets, **demo.as_of("bea", demo.ago(8), 9)
    )
    permissions.revoke_permission(
        permission=packets,
        because="Order 29: Tarn Vale was declared late; nothing of it is destroyed "
        "before its slips are free as well.",
        **demo.as_of("aron", demo.ago(3), 15),
    )
    # Waits for the second person: a box that the court wants opened.
    _permission(
        demo,
        "Order 33",
        Act.OPEN_BOX,
        _numbers(demo, "12", ContentKind.POLL_SLIPS)[:1],
        1,
        while_still_kept=True,
        conditions="A clerk of the High Bench is present.",
    )


def _dispose(demo: Demo) -> None:
    """Harbour Reach's mock-poll slips have gone, lawfully, a fortnight ago."""
    demo.say("disposing of what may go")
    mock = _numbers(demo, "11", ContentKind.MOCK_POLL_SLIPS)
    permission = _permission(demo, "Order 22", Act.DESTROY, mock, 20)
    permissions.countersign_permission(
        permission=permission, **demo.as_of("bea", demo.ago(19), 9)
    )
    day = demo.ago(14)
    for number in mock:
        file = looks.look_at_box(box=number, **demo.as_of("cora", day, 8))
        for seal in file.seals:
            boxes.check_seal(
                container=number,
                number_read=seal.serial,
                finding="intact-matches",
                witness="Ida Rill",
                **demo.as_of("cora", day, 9),
            )
    disposals.dispose_of(
        plan=disposals.DisposalPlan(
            containers=tuple(mock),
            method="cross-cut shredding",
            level="P-5",
            place="Customs House yard",
            witnesses=("Ida Rill, party agent", "Wim Ferrule, clerk of the court"),
        ),
        permission=permission,
        **demo.as_of("cora", day, 10),
    )
