"""What a machine of custodians knows of its rooms, and what must hold after each step.

It keeps a model of its own, changed only where an act was carried out; what the
register refuses must change nothing. After every step model and register agree on
where each container is; the chains of custody and the account of stock, which read
the whole register, are held against the model at every third step and at the end.
"""

import sys
from collections.abc import Callable
from datetime import timedelta
from itertools import count

from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant

from registry.documents import pdf
from registry.models import Box, CustodyMovement, Envelope
from registry.queries import custody as chains_of
from registry.rules.arrivals import Arrival
from registry.rules.custody_facts import CustodyFault
from registry.rules.stock import Flow
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.stock_accounts import AccountWanted, account_for_stock
from tests import given, stock

NO = (Refused, Mistaken, NotThere)
TABLE, MISSING, GONE = "at the table", "missing", "gone"
OUT, KEPT, ON_WAY, REPLACED = "out", "kept", "on the way", "replaced"
# Not in a room, or not there at all.
AWAY = {MISSING, GONE, OUT, KEPT, ON_WAY, REPLACED}
_PLACES = {
    "intake": TABLE,
    "missing": MISSING,
    "gone": GONE,
    "out": OUT,
    "kept": KEPT,
    "on-way": ON_WAY,
    "replaced": REPLACED,
}

containers = Bundle("containers")


def undoable():
    """A block that Django takes for a test's own, and lets durable ones stand in."""
    block = transaction.atomic()
    block._from_testcase = True
    return block


class Unlaid:
    """A paper as its page says it; laying it out is what tests/documents looks at."""

    def __init__(self, page: str, *_sheet: object, **_options: object) -> None:
        self.page = page

    def write_pdf(self, **_options: object) -> bytes:
        """The page itself, in the place of a PDF."""
        return self.page.encode()


def spare_the_press(monkeypatch) -> None:
    """Lay no paper out: a second or more for each, and the machine makes hundreds."""
    monkeypatch.setattr(pdf, "_laid_out", Unlaid)


class Model(RuleBasedStateMachine):
    """Two rooms, two keepers of the one and one of the other, and what they know."""

    scene: given.Scene
    # Of the first room, who take turns; then of the other room.
    keepers: tuple[str, str] = ("cora.keeper", "gil.keeper")
    far_keeper = "una.keeper"

    def __init__(self) -> None:
        super().__init__()
        # Each example begins from the scene, and is undone.
        self.block = undoable()
        self.block.__enter__()
        self.at = given.NOW
        self.serials = count(1)
        self.steps = 0
        self.keeper = 0
        self.arrivals: dict[str, Arrival] = {}
        self.place: dict[str, str] = {}
        self.room: dict[str, str] = {}
        # Who answers for it; for what is missing, who answered for it last.
        self.charge: dict[str, str] = {}
        self.transfer: dict[str, str] = {}
        self.came_back_from: dict[str, str] = {}

    def teardown(self) -> None:
        try:
            if sys.exc_info()[0] is None:
                self.charges_and_stock_agree()
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    # --- what the machine knows ------------------------------------------------------

    @property
    def actor(self):
        """Who is on duty in the first room."""
        return given.person(self.keepers[self.keeper])

    def keeper_of(self, room: str):
        """Who is on duty in a room."""
        return self.actor if room == self.scene.room else given.person(self.far_keeper)

    def act(self, container: str = "") -> dict:
        """Who acts and when: the keeper of the container's room, a minute later."""
        self.at += timedelta(minutes=1)
        room = self.room.get(container, self.scene.room)
        return {"actor": self.keeper_of(room), "at": self.at}

    def as_kept(self, container: str = ""):
        """The scene with the custodian who is on duty."""
        keeper = self.keeper_of(self.room.get(container, self.scene.room))
        cast = type(self.scene.cast)(**{**vars(self.scene.cast), "custodian": keeper})
        return type(self.scene)(**{**vars(self.scene), "cast": cast})

    def any_at(self, *places: str) -> bool:
        """Whether a container is at one of these places."""
        return any(place in places for place in self.place.values())

    def one_at(self, data, *places: str) -> str:
        """Draw a container at one of these places; now and then another one."""
        suits = [n for n, place in self.place.items() if place in places]
        return data.draw(st.sampled_from([*suits, next(reversed(self.place))]))

    def with_contents(self, number: str) -> list[str]:
        """A container and what lies in it."""
        return [number, *(n for n, place in self.place.items() if place == number)]

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
        """Every container as it stands, and how many movements there are."""
        models = (Box, Envelope)
        return [
            list(
                model.objects.order_by("id").values_list(
                    "number", "state", "whereabouts", "room_id", *extra
                )
            )
            for model, extra in zip(models, (["shelf_id"], ["box_id"]), strict=True)
        ] + [CustodyMovement.objects.count()]

    def received(self, number: str, arrival: Arrival) -> str:
        """Enter into the model what came in at the table."""
        self.arrivals[number] = arrival
        self.place[number] = TABLE
        self.room[number] = self.scene.room
        self.charge[number] = self.actor.name
        return number

    def given_to(self, person: str, number: str, place: str = "") -> None:
        """Enter who answers for a container and what lies in it, and its new place."""
        for each in self.with_contents(number):
            self.charge[each] = person
        if place:
            self.place[number] = place

    # --- what must hold --------------------------------------------------------------

    @invariant()
    def each_container_is_at_exactly_one_place(self):
        found, rooms = {}, {}
        for box in Box.objects.select_related("shelf", "room"):
            on_shelf = box.shelf.number if box.shelf else TABLE
            found[box.number] = _PLACES.get(box.whereabouts, on_shelf)
            rooms[box.number] = box.room.number
        for envelope in Envelope.objects.select_related("box", "room"):
            in_box = envelope.box.number if envelope.box else None
            found[envelope.number] = _PLACES.get(envelope.whereabouts, in_box)
            rooms[envelope.number] = envelope.room.number
        assert found == self.place
        assert rooms == self.room

    @invariant()
    def now_and_then_charges_and_stock_agree(self):
        """At every third step: both read the whole register."""
        self.steps += 1
        if self.steps % 3 == 0:
            self.charges_and_stock_agree()

    def charges_and_stock_agree(self):
        """What is looked at now and then, and at the end."""
        self.each_container_is_in_exactly_one_persons_charge()
        self.the_stock_is_what_was_received_less_what_ended()

    def each_container_is_in_exactly_one_persons_charge(self):
        """The chain of custody and the last movement that names somebody agree."""
        found = {}
        for model in (Box, Envelope):
            rows = list(model.objects.select_related("election", "room"))
            chains = chains_of.chains(rows, self.at + timedelta(seconds=1))
            for of in rows:
                found[of.number] = self._answers_for(of, chains[of.pk])
        assert found == self.charge

    def _answers_for(self, of, chain) -> str:
        number = of.number
        assert chain.ended == (self.place[number] == GONE), number
        if chain.ended:
            return self.charge[number]
        assert chain.now, f"{number} is in nobody's charge"
        if self.is_missing(number):
            assert (chain.now.gap, chain.now.holder) == (CustodyFault.MISSING, ""), (
                number
            )
        else:
            assert chain.now.gap is None, (number, chain.now)
            assert chain.now.holder == last_named(of), number
        return last_named(of)

    def is_missing(self, number: str) -> bool:
        """Whether a container is missing, itself or by the box in which it lies."""
        place = self.place[number]
        return place == MISSING or self.place.get(place) == MISSING

    def the_stock_is_what_was_received_less_what_ended(self):
        stock.must_add_up()
        ended = [self.count(GONE), self.count(REPLACED)]
        rows = sum(
            model.objects.exclude(state__in=("disposed", "superseded")).count()
            for model in (Box, Envelope)
        )
        assert rows == len(self.place) - sum(ended)
        account = account_for_stock(
            wanted=AccountWanted(), actor=self.scene.cast.auditor, at=self.at
        )
        assert account.agrees
        assert account.closing == rows
        assert account.total(Flow.RECEIVED) == len(self.place) - self.count(REPLACED)
        assert account.total(Flow.SEALED_ANEW) == self.count(REPLACED)
        assert [account.total(f) for f in (Flow.DISPOSED, Flow.SUPERSEDED)] == ended
        assert account.total(Flow.BROUGHT) == account.total(Flow.TAKEN)

    def count(self, place: str) -> int:
        """How many are at a place, by the model."""
        return sum(at == place for at in self.place.values())


def last_named(of: Box | Envelope) -> str:
    """Who is named last, on its own movements or on its box's since it lies there."""
    own = of.movements.exclude(to_person="").order_by("-id").first()
    missed = of.movements.filter(act="not-found").order_by("-id").first()
    box = of.box if isinstance(of, Envelope) else None
    if box is None:
        return own.to_person if own else ""
    into = of.movements.filter(act="boxed", to_place=f"box {box.number}").latest("id")
    moves = box.movements.exclude(to_person="")
    if of.whereabouts == "missing" and missed:
        moves = moves.filter(id__lt=missed.pk)
    since = moves.filter(id__gt=into.pk).order_by("-id").first()
    before = moves.filter(id__lt=into.pk).order_by("-id").first()
    named = since or before
    if named is None or (own and own.pk > into.pk and own.pk > named.pk):
        return own.to_person if own else ""
    return named.to_person
