"""Whatever the order of steps, the stock of the rooms stays whole.

A machine does what people do, in any order, over the real use cases and the real
database: each container is at exactly one place, in exactly one person's charge, and
what is in stock is what was received less what was disposed of. It keeps a model of
its own, changed only where an act was carried out; what the register refuses must
change nothing.

A deep run: ``pytest tests/usecases/test_stock_machine.py --hypothesis-profile=deep``.
"""

from collections.abc import Callable
from datetime import timedelta
from itertools import count

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)

from registry.models import Box, CustodyMovement, Discrepancy, Envelope, User
from registry.rules.powers import Role
from registry.rules.schedules import ContentKind
from registry.rules.stock import Flow
from registry.usecases import Mistaken, NotThere, Refused, boxes, custody, hand_overs
from registry.usecases.discrepancies import resolve_discrepancy
from registry.usecases.stock_accounts import AccountWanted, account_for_stock
from tests import given

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

# Enough to find a planted fault in each act, on a machine that others share.
settings.register_profile(
    "stock",
    deadline=None,
    max_examples=6,
    stateful_step_count=12,
    suppress_health_check=list(HealthCheck),
)
settings.register_profile(
    "deep", parent=settings.get_profile("stock"), max_examples=400,
    stateful_step_count=60,
)  # fmt: skip

NO = (Refused, Mistaken, NotThere)
TABLE = "at the table"
UNITS = [
    ("001", "Customs Quay School", "CU-11001", "PT-AA-11001"),
    ("002", "Net Loft Hall", "CU-11002", "PT-AA-11002"),
    ("003", "Lamp House", "CU-11003", "PT-AA-11003"),
]


def undoable():
    """A block that Django takes for a test's own, and lets durable ones stand in."""
    block = transaction.atomic()
    block._from_testcase = True
    return block


class Rooms(RuleBasedStateMachine):
    """Two custodians, one room, and what they do with boxes and envelopes."""

    scene: given.Scene
    keepers: tuple = ()

    containers = Bundle("containers")

    def __init__(self) -> None:
        super().__init__()
        # Each example begins from the scene, and is undone.
        self.block = undoable()
        self.block.__enter__()
        self.at = given.NOW
        self.serials = count(1)
        self.keeper = 0
        self.place: dict[str, str] = {}
        self.charge: dict[str, str] = {}
        self.disposed: set[str] = set()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.block.__exit__(None, None, None)

    # --- what the machine knows ------------------------------------------------------

    @property
    def actor(self):
        return given.person(self.keepers[self.keeper])

    def act(self) -> dict:
        self.at += timedelta(minutes=1)
        return {"actor": self.actor, "at": self.at}

    def done(self, step: Callable[[], object]) -> bool:
        """Carry a step out; a refusal changes nothing in the model, nor in the rows."""
        before = self.rows()
        try:
            with undoable():
                step()
        except NO:
            assert self.rows() == before
            return False
        return True

    def rows(self):
        models = (Box, Envelope)
        return [
            list(
                model.objects.order_by("id").values_list(
                    "number", "state", "whereabouts", *extra
                )
            )
            for model, extra in zip(models, (["shelf_id"], ["box_id"]), strict=True)
        ] + [CustodyMovement.objects.count()]

    def received(self, number: str):
        self.place[number] = TABLE
        self.charge[number] = self.actor.name
        return number

    # --- what people do --------------------------------------------------------------

    @rule(target=containers)
    def log_a_box(self):
        logged = given.logged(
            self.as_kept(), given.an_open_box(label=str(next(self.serials))), at=self.at
        )
        return self.received(logged.number)

    @rule(target=containers, unit=st.sampled_from(UNITS))
    def log_an_envelope(self, unit):
        station, name, control, paper = unit
        arrival = given.an_envelope_on_the_table(
            station=station,
            name=name,
            control_unit=control,
            paper_trail_unit=paper,
            seal=f"W-{next(self.serials)}",
        )
        return self.received(given.logged(self.as_kept(), arrival, at=self.at).number)

    @rule(target=containers)
    def receive_a_filled_box(self):
        """A box of packets, closed and shelved, as most boxes are after some days."""
        serial = next(self.serials)
        box = given.logged(
            self.as_kept(),
            given.an_open_box(kind=ContentKind.STATUTORY_PACKET, label=str(serial)),
            at=self.at,
        ).number
        packet = given.an_envelope_on_the_table(
            seal=f"W-{serial}", kind=ContentKind.STATUTORY_PACKET
        )
        inside = given.logged(self.as_kept(), packet, box=box, at=self.at).number
        self.received(box)
        self.received(inside)
        self.place[inside] = box
        self.close(box)
        self.shelve(box, 1)
        return multiple(box, inside)

    def as_kept(self):
        """The scene with the custodian who is on duty."""
        cast = type(self.scene.cast)(
            **{**vars(self.scene.cast), "custodian": self.actor}
        )
        return type(self.scene)(**{**vars(self.scene), "cast": cast})

    @rule(envelope=containers, box=containers)
    def put_in(self, envelope, box):
        if self.done(
            lambda: boxes.put_into_box(envelope=envelope, box=box, **self.act())
        ):
            self.place[envelope] = box

    @rule(box=containers)
    def close(self, box):
        self.done(
            lambda: boxes.close_box(
                box=box,
                seals=[given.paper_seal(f"PS-{next(self.serials)}")],
                sealed_on=given.COUNTED,
                written_stations="001",
                **self.act(),
            )
        )

    @rule(box=containers, place=st.sampled_from((0, 1)))
    def shelve(self, box, place):
        shelf = self.scene.shelves[place]
        if self.done(lambda: boxes.shelve_box(box=box, shelf=shelf, **self.act())):
            self.place[box] = shelf

    @rule(container=containers, to=st.sampled_from(("Gil Keeper", "Nora Keeper")))
    def hand_over_one(self, container, to):
        if self.done(
            lambda: custody.hand_over(container=container, to_person=to, **self.act())
        ):
            self.charge[container] = to

    @rule(container=containers)
    def miss(self, container):
        if self.done(
            lambda: custody.report_not_found(
                container=container, note="Looked for.", **self.act()
            )
        ):
            self.place[container] = "missing"

    @rule(container=containers)
    def find(self, container):
        if self.done(
            lambda: custody.report_found(
                container=container, note="Behind the rack.", **self.act()
            )
        ):
            of = Envelope.objects.filter(number=container).select_related("box").first()
            self.place[container] = of.box.number if of and of.box else TABLE

    @rule(container=containers, intact=st.booleans())
    def read_the_seal(self, container, intact):
        model = Box if container.startswith("BX") else Envelope
        seal = model.objects.get(number=container).seals.first()
        self.done(
            lambda: boxes.check_seal(
                container=container,
                number_read=seal.serial if seal and intact else "W-XXXX",
                finding="intact-matches",
                **self.act(),
            )
        )

    @rule()
    def resolve_what_is_open(self):
        for of in Discrepancy.objects.filter(resolved_at__isnull=True):
            self.done(
                lambda of=of: resolve_discrepancy(
                    discrepancy=of.number,
                    resolution="Looked at by both.",
                    **self.act(),
                )
            )

    @rule(box=containers)
    def dispose(self, box):
        if self.place[box] in (TABLE, "missing", "gone") or box[:2] != "BX":
            return
        inside = [number for number, place in self.place.items() if place == box]

        def step():
            self.at += timedelta(minutes=1)
            given.a_confirmation(self.scene, at=self.at)
            permission = given.a_permission(
                self.scene, [box], ref=f"O/{next(self.serials)}", at=self.at
            )
            seal = Box.objects.get(number=box).seals.latest("id")
            given.a_checked_seal(self.as_kept(), box, read=seal.serial, at=self.at)
            given.disposed_of(self.as_kept(), box, permission, at=self.at)

        if self.done(step):
            for number in (box, *inside):
                self.place[number] = "gone"
                self.disposed.add(number)

    @rule()
    def hand_the_room_over(self):
        """The whole charge passes to the other custodian, on both signatures."""
        giver, taker = self.actor, given.person(self.keepers[1 - self.keeper])
        present = [
            number
            for number, place in self.place.items()
            if place not in ("missing", "gone") and not place.startswith("BX")
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
                self.charge[number] = taker.name

    # --- what must hold --------------------------------------------------------------

    @invariant()
    def each_container_is_at_exactly_one_place(self):
        found = {}
        for box in Box.objects.select_related("shelf"):
            assert (box.whereabouts == "shelved") <= (box.shelf_id is not None)
            assert (box.whereabouts == "gone") == (box.state == "disposed")
            on_shelf = box.shelf.number if box.shelf else TABLE
            found[box.number] = {
                "shelved": on_shelf,
                "intake": TABLE,
                "missing": "missing",
                "gone": "gone",
            }[box.whereabouts]
        for envelope in Envelope.objects.select_related("box"):
            in_box = envelope.box.number if envelope.box else None
            assert (envelope.whereabouts == "in-box") <= (in_box is not None)
            found[envelope.number] = {
                "in-box": in_box,
                "intake": TABLE,
                "missing": "missing",
                "gone": "gone",
            }[envelope.whereabouts]
        assert found == self.place

    @invariant()
    def each_container_is_in_exactly_one_persons_charge(self):
        held: dict[str, str] = {}
        ended = set()
        moves = CustodyMovement.objects.select_related("box", "envelope")
        for move in moves.order_by("id"):
            number = (move.box or move.envelope).number
            assert number not in ended, f"{number} moved after its end"
            assert (number not in held) == (move.act == "received")
            if move.act == "disposed":
                ended.add(number)
            if move.to_person:
                held[number] = move.to_person
        assert held == self.charge
        assert ended == self.disposed

    @invariant()
    def the_stock_is_what_was_received_less_what_was_disposed_of(self):
        rows = sum(
            model.objects.exclude(state__in=("disposed", "superseded")).count()
            for model in (Box, Envelope)
        )
        assert rows == len(self.place) - len(self.disposed)
        account = account_for_stock(
            wanted=AccountWanted(), actor=self.scene.cast.auditor, at=self.at
        )
        assert account.agrees
        assert account.closing == rows
        assert account.total(Flow.RECEIVED) == len(self.place)
        assert account.total(Flow.DISPOSED) == len(self.disposed)


def test_whatever_the_order_of_steps_the_stock_stays_whole():
    scene = given.a_scene()
    Rooms.scene = scene
    Rooms.keepers = ("cora.keeper", "gil.keeper")
    given.appointed(scene.cast.administrator, "gil.keeper", Role.CUSTODIAN)
    asked = settings.get_profile("deep" if deep_run() else "stock")
    run_state_machine_as_test(Rooms, settings=asked)


def deep_run() -> bool:
    """Whether the deep profile was asked for."""
    return settings.default.max_examples == settings.get_profile("deep").max_examples
