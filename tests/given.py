"""States that tests begin from, each built by the acts that people do.

Everything lies in the invented country of Calvenna. The poll is 400 days before the
moment of the test, so that every period of its schedule can be over or running.
"""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.test import Client

from registry.models import Box, Envelope, Shelf, User
from registry.rules.arrivals import Arrival, SealEntry, SealKind
from registry.rules.markings import Marking
from registry.rules.powers import Actor, Role
from registry.rules.schedules import ContentKind
from registry.usecases import (
    boxes,
    cases,
    coming_back,
    disposals,
    intake,
    people,
    permissions,
    setting_up,
    stations,
    taking_out,
)

NOW = datetime(2026, 11, 2, 10, 0, tzinfo=UTC)  # a Monday
TODAY = NOW.date()
POLLED = TODAY - timedelta(days=400)
COUNTED = POLLED + timedelta(days=3)
DECLARED = POLLED + timedelta(days=4)
PASSWORD = "harbour lantern ferry"
ELECTION_NAME = "General Election of Calvenna"
SCHEDULE_FILE = Path(__file__).parent.parent / "fixtures/schedules/calvenna-3.toml"

STATIONS = """\
constituency_number,constituency_name,station_number,station_name,place,control_unit,paper_trail_unit,replaced,note
11,Harbour Reach,001,Customs Quay School,Customs Quay,CU-11001,PT-AA-11001,no,
11,Harbour Reach,002,Net Loft Hall,Netmakers Row,CU-11002,PT-AA-11002,no,
11,Harbour Reach,003,Lamp House,Beacon Lane,CU-11003,PT-AA-11003,no,
11,Harbour Reach,003,Lamp House,Beacon Lane,CU-11903,PT-AA-11903,yes,replaced at 11:20
12,Quillmoor,001,Peat Works Canteen,Turbary Road,CU-12001,PT-AA-12001,no,
12,Quillmoor,002,Heron School,Sedge Way,CU-12002,PT-AA-12002,no,
"""


@dataclass(frozen=True)
class Cast:
    """The people of a test, one of each role and a second at the authority's desk."""

    administrator: Actor
    custodian: Actor
    legal: Actor
    authority: Actor
    countersigner: Actor
    auditor: Actor


@dataclass(frozen=True)
class Scene:
    """An election that is set up, with its rooms and its people."""

    cast: Cast
    election: str
    contests: dict[str, str]
    room: str
    other_room: str
    shelves: tuple[str, ...]


def first_administrator(at: datetime = NOW) -> Actor:
    """The first person of an empty registry."""
    people.appoint_first_administrator(
        appointment=people.Appointment("admin", "Ada Merrow", Role.ADMINISTRATOR),
        password=PASSWORD,
        actor=people.terminal(Role.ADMINISTRATOR, account="setup"),
        at=at,
    )
    return person("admin")


def person(username: str) -> Actor:
    """A person as an actor, with the scope of this moment."""
    actor = people.person_by_username(username, address="192.0.2.7", channel="web")
    assert actor is not None
    return actor


def appointed(administrator: Actor, username: str, role: Role, **charge) -> Actor:
    """A person with a post."""
    people.appoint_person(
        appointment=people.Appointment(
            username, username.replace(".", " ").title(), role, **charge
        ),
        password=PASSWORD,
        actor=administrator,
        at=NOW,
    )
    return person(username)


def a_scene(
    declared_on: date | None = DECLARED, at: datetime = NOW, legal_zone: str = "UTC"
) -> Scene:
    """An election with two contests, six unit sets, two rooms and its people."""
    admin = first_administrator(at)
    act = {"actor": admin, "at": at}
    schedule = setting_up.adopt_schedule(
        text=SCHEDULE_FILE.read_text(), file_name=SCHEDULE_FILE.name, **act
    )
    calendar = setting_up.set_up_calendar(
        name="Registry of the High Bench", closed_weekdays=[5, 6], **act
    )
    election = setting_up.set_up_election(
        code="general",
        name=ELECTION_NAME,
        schedule=schedule,
        calendar=calendar,
        legal_zone=legal_zone,
        **act,
    )
    contests = {
        number: setting_up.set_up_contest(
            election=election,
            constituency_number=number,
            constituency_name=name,
            returning_officer="Isolde Tarn",
            days=setting_up.ContestDays(POLLED, COUNTED, declared_on),
            source="Declaration of result",
            **act,
        )
        for number, name in (("11", "Harbour Reach"), ("12", "Quillmoor"))
    }
    stations.load_stations(
        election=election,
        content=STATIONS.encode(),
        file_name="stations.csv",
        **act,
    )
    bays = [setting_up.BayPlan("A", (("1", 2), ("2", 20)))]
    room = setting_up.set_up_room(
        name="Customs House strong room", site="Customs Quay", bays=bays, **act
    )
    other = setting_up.set_up_room(
        name="Old Granary strong room", site="Mill Lane", bays=bays, **act
    )
    cast = Cast(
        administrator=admin,
        custodian=appointed(admin, "cora.keeper", Role.CUSTODIAN, rooms=(room,)),
        legal=appointed(admin, "lena.law", Role.LEGAL, elections=(election,)),
        authority=appointed(admin, "aron.steward", Role.AUTHORITY),
        countersigner=appointed(admin, "bea.steward", Role.AUTHORITY),
        auditor=appointed(admin, "otto.audit", Role.AUDITOR),
    )
    shelves = tuple(
        Shelf.objects.filter(bay__room__number=room)
        .order_by("id")
        .values_list("number", flat=True)
    )
    return Scene(cast, election, contests, room, other, shelves)


def an_envelope_on_the_table(
    station: str = "001",
    constituency: tuple[str, str] = ("11", "Harbour Reach"),
    name: str = "Customs Quay School",
    control_unit: str = "CU-11001",
    paper_trail_unit: str = "PT-AA-11001",
    seal: str = "W-0001",
    kind: ContentKind = ContentKind.POLL_SLIPS,
) -> Arrival:
    """An envelope whose markings are all as they must be."""
    return Arrival(
        noun="envelope",
        kind=kind,
        received_on=COUNTED,
        sealed_on=COUNTED,
        written={
            Marking.ELECTION: ELECTION_NAME,
            Marking.CONSTITUENCY_NUMBER: constituency[0],
            Marking.CONSTITUENCY_NAME: constituency[1],
            Marking.STATION_NUMBER: station,
            Marking.STATION_NAME: name,
            Marking.CONTROL_UNIT: control_unit,
            Marking.PAPER_TRAIL_UNIT: paper_trail_unit,
            Marking.POLL_DATE: f"{POLLED:%d/%m/%Y}",
            Marking.COUNTING_DATE: f"{COUNTED:%d/%m/%Y}",
        },
        seals=(SealEntry(SealKind.WAX, "Returning Officer 11", seal),),
        slip_count=612,
        self_test_count=7,
    )


def changed(arrival: Arrival, marking: Marking, text: str | None) -> Arrival:
    """The same container with one marking written otherwise, or not at all."""
    written = {m: t for m, t in arrival.written.items() if m != marking}
    if text is not None:
        written[marking] = text
    return replace(arrival, written=written)


def an_open_box(
    constituency: tuple[str, str] = ("11", "Harbour Reach"),
    kind: ContentKind = ContentKind.POLL_SLIPS,
    stations: str = "001",
    label: str = "1 of 1",
) -> Arrival:
    """A box that is still being filled."""
    return Arrival(
        noun="box",
        kind=kind,
        received_on=COUNTED,
        label=label,
        closed=False,
        written={
            Marking.ELECTION: ELECTION_NAME,
            Marking.CONSTITUENCY_NUMBER: constituency[0],
            Marking.CONSTITUENCY_NAME: constituency[1],
            Marking.STATION_NUMBER: stations,
            Marking.POLL_DATE: f"{POLLED:%d/%m/%Y}",
            Marking.COUNTING_DATE: f"{COUNTED:%d/%m/%Y}",
        },
    )


def logged(scene: Scene, arrival: Arrival, **more) -> intake.Logged:
    """A container that was logged at intake by the custodian."""
    return intake.log_container(
        arrival=arrival,
        election=scene.election,
        room=scene.room,
        actor=scene.cast.custodian,
        at=more.pop("at", NOW),
        **more,
    )


def paper_seal(number: str = "PS-0001", *, signed: bool = True) -> SealEntry:
    """A numbered paper seal."""
    return SealEntry(SealKind.PAPER, "Calvenna Print Works", number, signed)


def a_shelved_box(scene: Scene, seal: str = "PS-0001", at: datetime = NOW) -> Box:
    """A closed, sealed box with one envelope, on its shelf."""
    act = {"actor": scene.cast.custodian, "at": at}
    box = logged(scene, an_open_box(), at=at).number
    logged(scene, an_envelope_on_the_table(), box=box, at=at)
    boxes.close_box(box=box, seals=[paper_seal(seal)], sealed_on=COUNTED, **act)
    boxes.shelve_box(box=box, shelf=scene.shelves[0], **act)
    return Box.objects.get(number=box)


def a_shelved_box_of_station_two(scene: Scene) -> Box:
    """A second closed box of the same contest, its seal not yet checked."""
    act = {"actor": scene.cast.custodian, "at": NOW}
    box = logged(scene, an_open_box(stations="002", label="2 of 2")).number
    inside = an_envelope_on_the_table(
        station="002",
        name="Net Loft Hall",
        control_unit="CU-11002",
        paper_trail_unit="PT-AA-11002",
        seal="W-0002",
    )
    logged(scene, inside, box=box)
    boxes.close_box(box=box, seals=[paper_seal("PS-0002")], sealed_on=COUNTED, **act)
    boxes.shelve_box(box=box, shelf=scene.shelves[1], **act)
    return Box.objects.get(number=box)


def an_envelope_in(box: Box) -> Envelope:
    """The one envelope of a box."""
    return box.envelopes.get()


def a_recorded_permission(
    scene: Scene, things, act: str = "destroy", ref: str = "ESC/ORD/1", **more
) -> str:
    """A permission that one person at the authority's desk has recorded."""
    at = more.pop("at", NOW)
    return permissions.record_permission(
        election=scene.election,
        authority="Electoral Steward of Calvenna",
        order_ref=ref,
        dated=more.pop("dated", TODAY - timedelta(days=2)),
        valid_from=more.pop("valid_from", TODAY - timedelta(days=2)),
        valid_until=more.pop("valid_until", TODAY + timedelta(days=30)),
        act=act,
        things=things,
        actor=scene.cast.authority,
        at=at,
        **more,
    )


def a_permission(scene: Scene, things, act: str = "destroy", **more) -> str:
    """A permission in force: recorded by one, countersigned by another."""
    number = a_recorded_permission(scene, things, act, **more)
    permissions.countersign_permission(
        permission=number, actor=scene.cast.countersigner, at=more.get("at", NOW)
    )
    return number


def a_confirmation(scene: Scene, constituency: str = "11", at: datetime = NOW) -> str:
    """The court registry's paper that nothing is pending, of yesterday."""
    return cases.record_confirmation(
        contest=scene.contests[constituency],
        registry_of="High Bench of Calvenna",
        reference=f"HB/REG/{constituency}",
        dated=at.date() - timedelta(days=1),
        covers_through=at.date() - timedelta(days=1),
        actor=scene.cast.legal,
        at=at,
    )


def a_checked_seal(
    scene: Scene, number: str, read: str = "PS-0001", at: datetime = NOW
) -> None:
    """The seal of a container, read today and found as recorded."""
    boxes.check_seal(
        container=number,
        number_read=read,
        finding="intact-matches",
        witness="Second Keeper",
        actor=scene.cast.custodian,
        at=at,
    )


def a_handing(**more) -> taking_out.Handing:
    """To whom containers are handed out, the order called back an hour before."""
    return replace(
        taking_out.Handing(
            to_person="Rhea Moor, clerk of the High Bench",
            to_place="Registry of the High Bench",
            second_person="Gil Keeper",
            confirmed_with="Orin Sedge, registrar",
            confirmed_at=more.pop("confirmed_at", NOW - timedelta(hours=1)),
            expected_back_on=TODAY + timedelta(days=14),
        ),
        **more,
    )


def handed_out(
    scene: Scene, readings: dict[str, tuple[str, ...]], permission: str, **more
) -> taking_out.TakenOut:
    """Containers handed out under an order, each with its seals as they were read."""
    return taking_out.take_out(
        going=[
            taking_out.Going(container, read) for container, read in readings.items()
        ],
        permission=permission,
        handing=more.pop("handing", None) or a_handing(),
        actor=scene.cast.custodian,
        at=more.pop("at", NOW),
        **more,
    )


def back_again(
    scene: Scene, container: str, *readings: str, at: datetime = NOW, **more
) -> coming_back.CameBack:
    """A container that came back, its seals as they were read."""
    return coming_back.take_back(
        container=container,
        back=coming_back.Return("Rhea Moor, clerk", readings=readings, **more),
        actor=scene.cast.custodian,
        at=at,
    )


def a_case(
    scene: Scene,
    constituency: str = "11",
    occurred_on: date = DECLARED,
    at: datetime = NOW,
    **more,
) -> str:
    """A petition that challenges one contest, heard of only."""
    return cases.enter_case(
        election=scene.election,
        kind="election-petition",
        forum="High Bench of Calvenna",
        parties=more.pop("parties", "Moss v. Returning Officer"),
        covers=more.pop(
            "covers", cases.Covers(contests=(scene.contests[constituency],))
        ),
        occurred_on=occurred_on,
        actor=scene.cast.legal,
        at=at,
        **more,
    )


def a_plan(box: str, **more) -> disposals.DisposalPlan:
    """How a box is to be disposed of, with everything that is asked for."""
    plan = disposals.DisposalPlan(
        containers=(box,),
        method="cross-cut shredding",
        level="P-5",
        place="Customs House yard",
        witnesses=("Wim Sedge, clerk of the court", "Ida Rill, party agent"),
    )
    return replace(plan, **more)


def disposed_of(scene: Scene, box: str, permission: str, at: datetime = NOW, **more):
    """Dispose of a box as the custodian would."""
    return disposals.dispose_of(
        plan=a_plan(box, **more),
        permission=permission,
        actor=scene.cast.custodian,
        at=at,
    )


def browser_of(actor: Actor) -> Client:
    """A browser in which this person is logged in."""
    client = Client()
    client.force_login(
        User.objects.get(pk=actor.person_id),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    return client


def clock_at(monkeypatch: pytest.MonkeyPatch, at: datetime) -> None:
    """Let pages read this moment off the clock, whatever day the test is run."""
    clock = SimpleNamespace(now=lambda: at)
    monkeypatch.setattr("registry.web.middleware.timezone", clock)
