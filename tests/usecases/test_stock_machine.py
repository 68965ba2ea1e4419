"""Whatever the order of steps, the stock of the rooms stays whole.

A machine does what people do, in any order, over the real use cases and the real
database: each container is at exactly one place, in exactly one person's charge, and
what is in stock is what was received less what was superseded and disposed of. What
must hold after each step stands in ``tests/stock_machine.py``.

A deep run: ``pytest tests/usecases/test_stock_machine.py --hypothesis-profile=deep``.
"""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    initialize,
    multiple,
    precondition,
    rule,
    run_state_machine_as_test,
)

from registry.models import Box, Discrepancy, Envelope, User
from registry.rules.powers import Role
from registry.rules.schedules import ContentKind
from registry.usecases import (
    boxes,
    coming_back,
    custody,
    hand_overs,
    openings,
    productions,
    transfers,
)
from registry.usecases._seal_checks import seals_in_force
from registry.usecases.discrepancies import resolve_discrepancy
from tests import given
from tests.stock_machine import (
    AWAY,
    GONE,
    KEPT,
    MISSING,
    ON_WAY,
    OUT,
    REPLACED,
    TABLE,
    Model,
    containers,
    spare_the_press,
)

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

# Enough that each act is carried out, on a machine that others share; the same steps
# each time, so that what stops a landing can be seen again. A deep run draws its own.
settings.register_profile(
    "stock",
    deadline=None,
    max_examples=22,
    stateful_step_count=25,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
settings.register_profile(
    "deep", parent=settings.get_profile("stock"), max_examples=400,
    stateful_step_count=60, derandomize=False,
)  # fmt: skip

UNITS = [
    ("001", "Customs Quay School", "CU-11001", "PT-AA-11001"),
    ("002", "Net Loft Hall", "CU-11002", "PT-AA-11002"),
    ("003", "Lamp House", "CU-11003", "PT-AA-11003"),
]
COURTS = ("High Bench of Calvenna", "Court of Final Appeal of Calvenna")
CARRIER = "Tove Brand, driver of the Steward’s office"


def the_row(number: str) -> Box | Envelope:
    """The record of a container."""
    model = Box if number.startswith("BX") else Envelope
    return model.objects.get(number=number)


def readings(number: str) -> tuple[str, ...]:
    """What is read on the seals of a container whose seals are whole."""
    return tuple(seal.serial for seal in seals_in_force(the_row(number)))


def any_open() -> bool:
    """Whether a discrepancy is open."""
    return Discrepancy.objects.filter(resolved_at__isnull=True).exists()


class InTheRoom(Model):
    """What people do with boxes and envelopes in the room."""

    @initialize(target=containers)
    def begin(self):
        """Something is there already when the first step is taken."""
        box, inside = self.a_filled_box()
        unit = self.an_envelope(UNITS[0])
        return multiple(box, inside, unit, self.an_open_box())

    @rule(target=containers)
    def log_a_box(self):
        return self.an_open_box()

    def an_open_box(self):
        """An empty box on the table."""
        arrival = given.an_open_box(label=str(next(self.serials)))
        logged = given.logged(self.as_kept(), arrival, at=self.at)
        return self.received(logged.number, arrival)

    @rule(target=containers, unit=st.sampled_from(UNITS))
    def log_an_envelope(self, unit):
        return self.an_envelope(unit)

    def an_envelope(self, unit):
        """An envelope on the table, as it comes in from its station."""
        station, name, control, paper = unit
        arrival = given.an_envelope_on_the_table(
            station=station,
            name=name,
            control_unit=control,
            paper_trail_unit=paper,
            seal=f"W-{next(self.serials)}",
        )
        logged = given.logged(self.as_kept(), arrival, at=self.at)
        return self.received(logged.number, arrival)

    @rule(target=containers)
    def receive_a_filled_box(self):
        return multiple(*self.a_filled_box())

    def a_filled_box(self):
        """A box of packets, closed and shelved, as most boxes are after some days."""
        serial = next(self.serials)
        outer = given.an_open_box(kind=ContentKind.STATUTORY_PACKET, label=str(serial))
        box = given.logged(self.as_kept(), outer, at=self.at).number
        packet = given.an_envelope_on_the_table(
            seal=f"W-{serial}", kind=ContentKind.STATUTORY_PACKET
        )
        inside = given.logged(self.as_kept(), packet, box=box, at=self.at).number
        self.received(box, outer)
        self.received(inside, packet)
        self.place[inside] = box
        self.close(box)
        self.shelve(box, 1)
        return box, inside

    @precondition(lambda self: self.any_at(TABLE))
    @rule(data=st.data())
    def put_in(self, data):
        envelope, box = self.one_at(data, TABLE), self.one_at(data, TABLE)
        if self.done(
            lambda: boxes.put_into_box(envelope=envelope, box=box, **self.act(box))
        ):
            self.place[envelope] = box
            self.charge[envelope] = self.charge[box]

    @rule(box=containers)
    def close(self, box):
        self.done(
            lambda: boxes.close_box(
                box=box,
                seals=[given.paper_seal(f"PS-{next(self.serials)}")],
                sealed_on=given.COUNTED,
                written_stations="001",
                **self.act(box),
            )
        )

    @rule(box=containers, place=st.sampled_from((0, 1)))
    def shelve(self, box, place):
        shelf = self.scene.shelves[place]
        if self.done(lambda: boxes.shelve_box(box=box, shelf=shelf, **self.act(box))):
            self.place[box] = shelf

    @rule(container=containers, to=st.sampled_from(("Gil Keeper", "Nora Keeper")))
    def hand_over_one(self, container, to):
        if self.done(
            lambda: custody.hand_over(
                container=container, to_person=to, **self.act(container)
            )
        ):
            self.given_to(to, container)

    @rule(container=containers)
    def miss(self, container):
        was = self.place[container]
        if self.done(
            lambda: custody.report_not_found(
                container=container, note="Looked for.", **self.act(container)
            )
        ):
            self.place[container] = MISSING
            if was in (OUT, KEPT):
                self.came_back_from[container] = was

    @precondition(lambda self: self.any_at(MISSING))
    @rule(data=st.data())
    def find(self, data):
        """In the finder's charge; in its box in its holder's; outside as before."""
        container = self.one_at(data, MISSING)
        act = self.act(container)
        if self.done(
            lambda: custody.report_found(
                container=container, note="Behind the rack.", **act
            )
        ):
            of = Envelope.objects.filter(number=container).select_related("box").first()
            outside = self.came_back_from.pop(container, "")
            box = of.box.number if of and of.box else ""
            if outside:
                self.place[container] = outside
            elif box:
                self.place[container] = box
                self.charge[container] = self.charge[box]
            else:
                self.given_to(act["actor"].name, container, TABLE)

    @rule(container=containers, intact=st.booleans())
    def read_the_seal(self, container, intact):
        seal = the_row(container).seals.first()
        self.done(
            lambda: boxes.check_seal(
                container=container,
                number_read=seal.serial if seal and intact else "W-XXXX",
                finding="intact-matches",
                **self.act(container),
            )
        )

    @precondition(lambda self: any_open())
    @rule()
    def resolve_what_is_open(self):
        for of in Discrepancy.objects.filter(resolved_at__isnull=True):
            thing = of.box or of.envelope
            self.done(
                lambda of=of, thing=thing: resolve_discrepancy(
                    discrepancy=of.number,
                    resolution="Looked at by both.",
                    **self.act(thing.number if thing else ""),
                )
            )

    @precondition(lambda self: self.any_at(*self.scene.shelves))
    @rule(data=st.data())
    def dispose(self, data):
        box = self.one_at(data, *self.scene.shelves)
        inside = self.with_contents(box)

        def step():
            act = self.act(box)
            permission = given.a_permission(
                self.scene, [box], ref=f"O/{next(self.serials)}", at=self.at
            )
            read = (*readings(box), "")[0]
            given.a_checked_seal(self.as_kept(), box, read, **at(act))
            given.disposed_of(self.as_kept(), box, permission, at=self.at)

        if self.done(step):
            for number in inside:
                self.place[number] = GONE

    @rule()
    def hand_the_room_over(self):
        """The whole charge passes to the other custodian, on both signatures."""
        giver, taker = self.actor, given.person(self.keepers[1 - self.keeper])
        present = [
            number
            for number, place in self.place.items()
            if place not in AWAY
            and not place.startswith("BX")
            and self.room[number] == self.scene.room
        ]
        numbers = dict(User.objects.values_list("pk", "number"))

        def step():
            act = self.act()
            of = hand_overs.state_stock(
                plan=hand_overs.HandOverPlan(
                    room=self.scene.room,
                    outgoing=numbers[giver.person_id],
                    incoming=numbers[taker.person_id],
                    order="ESC/TR/1",
                ),
                **act,
            )
            hand_overs.sign_out(hand_over=of, **act)
            hand_overs.sign_in(hand_over=of, actor=taker, at=self.at)

        if self.done(step):
            self.keeper = 1 - self.keeper
            for number in present:
                self.given_to(taker.name, number)


def at(act: dict) -> dict:
    """Only the moment of an act."""
    return {"at": act["at"]}


class Outside(Model):
    """What goes out, comes back, goes to the other room, or gets a new cover."""

    def permission(self, number: str, act: str) -> str:
        """A permission for one act on a container and what lies in it, as of now."""
        ref = f"O/{next(self.serials)}"
        things = self.with_contents(number) if act == "take-out" else [number]
        return given.a_permission(self.scene, things, act, ref=ref, at=self.at)

    @rule(container=containers)
    def take_out(self, container):
        if self.place[container] in AWAY:
            return
        taken = []

        def step():
            act = self.act(container)
            taken.append(
                given.handed_out(
                    self.as_kept(container),
                    {container: readings(container)},
                    self.permission(container, "take-out"),
                    **at(act),
                )
            )

        if self.done(step) and taken[0].productions:
            self.given_to(given.a_handing().to_person, container, OUT)

    @precondition(lambda self: self.any_at(OUT, KEPT))
    @rule(data=st.data(), court=st.sampled_from(COURTS))
    def court_keeps(self, data, court):
        container = self.one_at(data, OUT, KEPT)
        if self.done(
            lambda: productions.record_kept_by_court(
                container=container,
                court=court,
                order="HB/41",
                on=given.TODAY,
                **self.act(container),
            )
        ):
            self.given_to(court, container, KEPT)

    @precondition(lambda self: self.any_at(OUT, KEPT))
    @rule(data=st.data())
    def send_on(self, data):
        container = self.one_at(data, OUT, KEPT)
        if self.done(
            lambda: productions.record_sent_on(
                container=container,
                to_person="Orin Sedge, registrar",
                to_place=COURTS[1],
                order="HB/42",
                on=given.TODAY,
                **self.act(container),
            )
        ):
            self.given_to("Orin Sedge, registrar", container)

    @precondition(lambda self: self.any_at(OUT, KEPT))
    @rule(data=st.data(), keep_one=st.booleans(), whole=st.booleans())
    def take_back(self, data, keep_one, whole):
        container = self.one_at(data, OUT, KEPT)
        inside = self.with_contents(container)[1:]
        kept = tuple(inside[:1]) if keep_one else ()
        back = coming_back.Return(
            "Rhea Moor, clerk",
            readings=readings(container) if whole else (),
            finding="intact-matches" if whole else "open",
            kept_envelopes=kept,
            kept_by=COURTS[0],
            kept_order="HB/43",
        )
        act = self.act(container)
        if self.done(
            lambda: coming_back.take_back(container=container, back=back, **act)
        ):
            self.given_to(act["actor"].name, container, TABLE)
            for number in kept:
                self.given_to(COURTS[0], number, KEPT)

    @rule(container=containers)
    def send_to_the_other_room(self, container):
        rooms = [self.scene.room, self.scene.other_room]
        rooms.remove(self.room[container])
        journey = transfers.Journey(rooms[0], "ESC/MOVE/7", CARRIER)
        sent = []

        def step():
            read = tuple(text or "wax" for text in readings(container))
            sent.append(
                transfers.hand_over_for_transfer(
                    journey=journey,
                    containers=[transfers.Sent(container, read)],
                    **self.act(container),
                )
            )

        if self.done(step):
            self.transfer[container] = sent[0].number
            self.given_to(CARRIER, container, ON_WAY)

    @precondition(lambda self: self.any_at(ON_WAY))
    @rule(data=st.data())
    def take_over(self, data):
        container = self.one_at(data, ON_WAY)
        to = self.scene.room
        if self.room[container] == to:
            to = self.scene.other_room
        read = (*readings(container), "")[0]
        taker = self.keeper_of(to)
        if self.done(
            lambda: transfers.take_over(
                transfer=self.transfer.get(container, ""),
                arrived=transfers.Arrived(container, read, "intact-matches"),
                actor=taker,
                at=self.act()["at"],
            )
        ):
            for number in self.with_contents(container):
                self.room[number] = to
            self.given_to(taker.name, container, TABLE)

    @precondition(lambda self: self.any_at(ON_WAY))
    @rule(data=st.data())
    def come_back_from_the_way(self, data):
        container = self.one_at(data, ON_WAY)
        act = self.act(container)
        if self.done(
            lambda: transfers.came_back(
                transfer=self.transfer.get(container, ""),
                container=container,
                note="The bridge is closed.",
                **act,
            )
        ):
            self.given_to(act["actor"].name, container, TABLE)

    @precondition(lambda self: self.any_at(ON_WAY))
    @rule(data=st.data())
    def not_arrived(self, data):
        container = self.one_at(data, ON_WAY)
        to = self.scene.room
        if self.room[container] == to:
            to = self.scene.other_room
        self.done(
            lambda: transfers.report_not_arrived(
                transfer=self.transfer.get(container, ""),
                container=container,
                note="Not in the van.",
                actor=self.keeper_of(to),
                at=self.act()["at"],
            )
        )

    @rule(container=containers)
    def open_and_seal_anew(self, container):
        self.done(
            lambda: self.opened(
                container, new_seals=[given.paper_seal(f"PS-{next(self.serials)}")]
            )
        )

    @rule(target=containers, container=containers)
    def open_into_a_new_cover(self, container):
        serial, old = next(self.serials), self.arrivals[container]
        seal = given.paper_seal(f"PS-{serial}")
        if old.noun == "envelope":
            seal = replace(old.seals[0], serial=f"W-{serial}")
        new = replace(old, seals=(seal,), closed=True, label="")
        opened = []
        act = self.act(container)
        if not self.done(
            lambda: opened.append(self.opened(container, act, new_container=new))
        ):
            return multiple()
        cover = opened[0].successor
        self.arrivals[cover] = new
        self.room[cover] = self.room[container]
        self.place[cover] = self.place[container]
        for number in self.with_contents(container)[1:]:
            self.place[number] = cover
        self.charge[container] = act["actor"].name
        self.given_to(act["actor"].name, cover)
        self.place[container] = REPLACED
        return cover

    def opened(self, container: str, act: dict | None = None, **anew):
        """An opening with its seal read and its permission, as of now."""
        act = act or self.act(container)
        noun = self.arrivals[container].noun
        if self.place[container] not in AWAY and readings(container):
            given.a_checked_seal(
                self.as_kept(container), container, readings(container)[0], **at(act)
            )
        return openings.open_container(
            container=container,
            permission=self.permission(container, f"open-{noun}"),
            present="Cora Keeper; Ida Rill, party agent",
            done="The cover was torn.",
            fragments_kept_in="a marked bag",
            **anew,
            **act,
        )


class Rooms(InTheRoom, Outside):
    """Everything that people do, in any order."""


def test_whatever_the_order_of_steps_the_stock_stays_whole(monkeypatch):
    spare_the_press(monkeypatch)
    scene = given.a_scene()
    Rooms.scene = scene
    # One paper of the court's registry covers the day that the machine lives through.
    given.a_confirmation(scene)
    admin = scene.cast.administrator
    given.appointed(admin, "gil.keeper", Role.CUSTODIAN, rooms=(scene.room,))
    given.appointed(admin, "una.keeper", Role.CUSTODIAN, rooms=(scene.other_room,))
    asked = settings.get_profile("deep" if deep_run() else "stock")
    run_state_machine_as_test(Rooms, settings=asked)


def deep_run() -> bool:
    """Whether the deep profile was asked for."""
    return settings.default.max_examples == settings.get_profile("deep").max_examples
