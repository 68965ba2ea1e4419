"""Stock-taking by sample: planned, frozen, drawn from public numbers, looked at.

Nothing is opened. What is drawn is looked at by sight: the container, its seal, its
label, its place and its weight. An envelope in a sealed box is answered for by the
seal of the box.
"""

import csv
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from registry.documents.stock_takes import frozen_list
from registry.models import (
    Box,
    Election,
    Envelope,
    Shelf,
    StockTake,
    StockTakeItem,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import contests_of, elections_of, rooms_of
from registry.queries.stock_takes import (
    Stratum,
    container_in,
    line_of,
    looked_at_by,
    population,
    stock_takes_of,
    stratum_of,
    with_places,
)
from registry.rules.draws import LARGEST_POPULATION, SeedUnclear, draw, key_of
from registry.rules.numbers import NumberMistyped, read
from registry.rules.powers import Actor, Power, Role
from registry.rules.sampling import SampleError, sample_size
from registry.rules.schedules import ContentKind
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._looked_at import Look, Seen, check_look, enter_look
from registry.usecases._records import enter, enter_many
from registry.usecases.documents import keep_bytes

__all__ = [
    "Look",
    "Seen",
    "StockTakePlan",
    "abandon_stock_take",
    "conclude_stock_take",
    "draw_sample",
    "freeze_stock_take",
    "look_at_drawn",
]


@dataclass(frozen=True)
class StockTakePlan:
    """What a stock-take is to be of, and how sure it is to be.

    Attributes:
        noun: box or envelope; boxes are always counted whole.
        room, election, contest: register numbers; empty does not narrow.
        kind: one of ``ContentKind``; empty for any.
        whole: look at everything, draw nothing.
        lost: the loss that is to be found.
        probability: with which probability, 0.5 to 1.
        seed_announced: which public numbers will be the seed, and where they appear.
        seed_on: the day on which they become known: not yet today.
    """

    noun: str
    purpose: str
    room: str = ""
    election: str = ""
    contest: str = ""
    kind: str = ""
    whole: bool = False
    lost: int = 1
    probability: Decimal = Decimal("0.95")
    seed_announced: str = ""
    seed_on: date | None = None


@usecase("stock_take.freeze", power=Power.TAKE_STOCK)
def freeze_stock_take(*, plan: StockTakePlan, actor: Actor, at: datetime) -> str:
    """Fix the list, and announce which public numbers will decide; returns the number.

    A full count has nothing to decide: it can be looked at straight away.

    Raises:
        Mistaken: with what is wrong in the plan, by field.
    """
    stratum = stratum_planned(plan, actor)
    containers = list(with_places(population(stratum, actor)))
    today = legal_date(_election_of(stratum), at)
    size = _checked(plan, len(containers), today)
    content = frozen_list(line_of(of) for of in containers)
    title = f"Frozen list of {stratum}"
    document = keep_bytes(title, content, "text/csv", "csv")
    whole = size == len(containers)
    take = enter(
        StockTake(
            room=stratum.room,
            election=stratum.election,
            contest=stratum.contest,
            kind=stratum.kind,
            noun=stratum.noun,
            whole=whole,
            state=StockTake.State.DRAWN if whole else StockTake.State.FROZEN,
            purpose=plan.purpose.strip(),
            population=len(containers),
            lost_supposed=1 if whole else plan.lost,
            probability=Decimal(1) if whole else plan.probability,
            sample_size=size,
            list_document=document,
            list_digest=document.digest,
            seed_announced="" if whole else plan.seed_announced.strip(),
            seed_on=None if whole else plan.seed_on,
            frozen_on=today,
            frozen_at=at,
            frozen_by_id=actor.person_id,  # type: ignore[misc] # a person plans
            drawn_at=at if whole else None,
            drawn_by_id=actor.person_id if whole else None,
        )
    )
    if whole:
        enter_many(_items(take, containers, range(1, len(containers) + 1)))
    note_access(take.number, shown=[of.number for of in containers])
    return take.number


def stratum_planned(plan: StockTakePlan, actor: Actor) -> Stratum:
    """Return what a plan is of, within what the actor may see.

    Raises:
        Mistaken: a custodian named none of the own rooms, or there is no such content.
    """
    if plan.noun not in ("box", "envelope"):
        raise Mistaken(noun="Choose boxes or envelopes.")
    if plan.kind and plan.kind not in list(ContentKind):
        raise Mistaken(kind="There is no such content.")
    room = the(rooms_of(actor), plan.room, "strong room") if plan.room else None
    if room is None and actor.role is Role.CUSTODIAN:
        raise Mistaken(room="Choose one of your strong rooms.")
    contest = None
    election = None
    if plan.contest:
        contest = the(contests_of(actor), plan.contest, "contest")
        election = contest.election
    elif plan.election:
        election = the(elections_of(actor), plan.election, "election")
    return Stratum(plan.noun, room, election, contest, plan.kind)


def _election_of(stratum: Stratum) -> Election | None:
    return stratum.election or Election.objects.order_by("id").first()


def size_planned(plan: StockTakePlan, of: int) -> int:
    """Return how many of so many containers a plan looks at.

    Raises:
        Mistaken: there is none, or the question has no answer.
    """
    if of == 0:
        raise Mistaken(noun="There is nothing of this on the register to look at.")
    if plan.whole or plan.noun == "box":
        return of
    if not Decimal("0.5") <= plan.probability <= 1:
        raise Mistaken(probability="Give a probability from 50 to 100 per cent.")
    try:
        return sample_size(of, plan.lost, plan.probability)
    except SampleError as error:
        raise Mistaken(lost=str(error)) from error


def _checked(plan: StockTakePlan, of: int, today: date) -> int:
    problems: dict[str, list[str]] = {}
    if not plan.purpose.strip():
        problems["purpose"] = ["Say what the stock-take is for."]
    if len(plan.purpose.strip()) > 200:
        problems["purpose"] = ["Shorten this to 200 characters."]
    size = size_planned(plan, of)
    if size < of:
        problems |= _seed_problems(plan, of, today)
    if problems:
        raise Mistaken(problems)
    return size


def _seed_problems(plan: StockTakePlan, of: int, today: date) -> dict[str, list[str]]:
    problems = {}
    if of > LARGEST_POPULATION:
        problems["noun"] = [
            f"A draw is made from {LARGEST_POPULATION:,} at most. Narrow it down, to "
            "one contest or one content."
        ]
    announced = plan.seed_announced.strip()
    if not announced:
        problems["seed_announced"] = [
            "Say which public numbers will decide, and where anybody can read them."
        ]
    elif len(announced) > 400:
        problems["seed_announced"] = ["Shorten this to 400 characters."]
    if plan.seed_on is None:
        problems["seed_on"] = ["Say on which day the numbers become known."]
    elif plan.seed_on <= today:
        problems["seed_on"] = [
            "Nobody may know the numbers yet: choose a day after today."
        ]
    return problems


@usecase("stock_take.draw", power=Power.TAKE_STOCK, subject="stock_take")
def draw_sample(*, stock_take: str, seed: str, actor: Actor, at: datetime) -> int:
    """Draw the sample from the public numbers; returns how many were drawn.

    The list is read from the paper that was kept, and its digest is compared first.

    Raises:
        Mistaken: the numbers can be read in more than one way.
        Refused: it was drawn already, the day has not come, or the list was altered.
    """
    take = locked_stock_take(stock_take, actor)
    if take.state != StockTake.State.FROZEN:
        raise Refused(f"{take.number} is {take.get_state_display()}: it is drawn once.")
    today = legal_date(_election_of(stratum_of(take)), at)
    if take.seed_on is None or today < take.seed_on:
        raise Refused(
            f"The numbers that decide become known on {take.seed_on:%-d %B %Y}. A "
            "draw before that day could be foreseen."
        )
    try:
        key = key_of(seed)
    except SeedUnclear as unclear:
        raise Mistaken(seed=str(unclear)) from unclear
    if len(key) > 400:
        raise Mistaken(seed="These are too many numbers: the key has 400 characters.")
    numbers = _listed(take)
    lines = draw(key, take.population, take.sample_size)
    take.seed = key
    take.state = StockTake.State.DRAWN
    take.drawn_at = at
    take.drawn_by_id = actor.person_id
    take.save()
    containers = _containers(take.noun, [numbers[line - 1] for line in lines])
    enter_many(_items(take, containers, lines))
    note_access(take.number, shown=[of.number for of in containers], seed=key)
    return len(containers)


def locked_stock_take(number: str, actor: Actor) -> StockTake:
    """Return a stock-take within the actor's scope, locked."""
    rows = stock_takes_of(actor).select_for_update(of=("self",))
    return the(rows, number, "stock-take")


def _listed(take: StockTake) -> list[str]:
    """Return the numbers on the frozen list, in its order."""
    try:
        with take.list_document.file.open("rb") as file:
            content = file.read()
    except OSError as error:
        raise Refused(
            f"The frozen list of {take.number} cannot be read. Tell the administrator."
        ) from error
    if hashlib.sha256(content).hexdigest() != take.list_digest:
        raise Refused(
            f"The frozen list of {take.number} is not the one that was frozen: its "
            "digest differs. Tell the administrator and the auditor."
        )
    lines = content.decode("utf-8-sig").splitlines()
    return [row["number"] for row in csv.DictReader(lines)]


def _containers(noun: str, numbers: Sequence[str]) -> list[Box | Envelope]:
    """Return the containers of these numbers, in their order."""
    found: dict[str, Box | Envelope] = {}
    model: type[Box] | type[Envelope] = Box if noun == "box" else Envelope
    for begin in range(0, len(numbers), 500):
        some = model.objects.filter(number__in=numbers[begin : begin + 500])
        found |= {of.number: of for of in some}
    return [found[number] for number in numbers]


def _items(
    take: StockTake, containers: Sequence[Box | Envelope], lines: Sequence[int]
) -> list[StockTakeItem]:
    return [
        StockTakeItem(
            stock_take=take,
            position=position,
            line=line,
            box=of if isinstance(of, Box) else None,
            envelope=of if isinstance(of, Envelope) else None,
        )
        for position, (of, line) in enumerate(
            zip(containers, lines, strict=True), start=1
        )
    ]


@usecase("stock_take.look_at_one", power=Power.TAKE_STOCK, subject="stock_take")
def look_at_drawn(
    *,
    stock_take: str,
    look: Look,
    shelf: str = "",
    seen_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> Seen:
    """Enter what was seen of one that was drawn, or that it was not found.

    A sealed box answers for every drawn envelope that lies in it. One that was not
    drawn is not taken in place of another.

    Args:
        shelf: number of the shelf on which it stands, where it was scanned.
        seen_at: when, where a printed sheet is typed in later.

    Raises:
        Mistaken: the look leaves something out, or the moment cannot be.
        Refused: it was not drawn, or was looked at already.
    """
    take = locked_stock_take(stock_take, actor)
    if take.state != StockTake.State.DRAWN:
        raise Refused(f"{take.number} is {take.get_state_display()}.")
    items = _items_behind(take, look.scanned)
    containers = [container_in(item) for item in items]
    of = _locked(looked_at_by(containers[0]))
    _refuse_looked_at(take, items, look)
    when = _when(take, seen_at, at)
    check_look(of, look)
    seen = enter_look(
        of,
        Look(**{**vars(look), "shelf": _shelf(shelf, of)}),
        when,
        actor,
        at,
        stands_for=[of if one.pk == of.pk and type(one) is type(of) else one
                    for one in containers],
        stock_take=take,
    )  # fmt: skip
    note_access(take.number, meant=[one.number for one in containers])
    return seen


def _items_behind(take: StockTake, scanned: str) -> list[StockTakeItem]:
    """Return the drawn items for which a scanned container answers."""
    try:
        number = read(scanned)
    except NumberMistyped as error:
        raise Mistaken(scanned=str(error)) from error
    rows = take.items.select_related("box", "envelope__box").order_by("position")
    own = [item for item in rows if container_in(item).number == number]
    if own:
        by = looked_at_by(container_in(own[0]))
        if by.number != number:
            raise Mistaken(
                scanned=f"{number} lies in the sealed box {by.number}: scan the box "
                "and read its seal. Nothing is opened."
            )
        return own
    inside = [
        item for item in rows if looked_at_by(container_in(item)).number == number
    ]
    if not inside:
        raise Mistaken(
            scanned=f"{number} is not among those drawn. Nothing takes the place of "
            "one that was drawn; report what is wrong with this one on its own page."
        )
    return inside


def _locked(of: Box | Envelope) -> Box | Envelope:
    rows = type(of).objects.select_for_update(of=("self",))
    return rows.select_related("room", "election").get(pk=of.pk)


def _refuse_looked_at(
    take: StockTake, items: Sequence[StockTakeItem], look: Look
) -> None:
    """Refuse a second look, unless the first was in vain and it turned up."""
    last = (
        take.sightings.filter(
            box=items[0].box_id, envelope=items[0].envelope_id
        )
        .order_by("-id")
        .first()
    )  # fmt: skip
    if last and (last.found or not look.found):
        raise Refused(
            f"{container_in(items[0]).number} was looked at on "
            f"{last.seen_at:%-d %B %Y at %H:%M}. Report anything further on its own "
            "page."
        )


def _when(take: StockTake, seen_at: datetime | None, at: datetime) -> datetime:
    if seen_at is None:
        return at
    if seen_at > at:
        raise Mistaken(seen_at="This moment has not come yet.")
    if take.drawn_at and seen_at < take.drawn_at:
        raise Mistaken(seen_at="Nothing was drawn yet at that moment.")
    return seen_at


def _shelf(number: str, of: Box | Envelope) -> Shelf | None:
    if not number.strip():
        return None
    rows = Shelf.objects.filter(bay__room_id=of.room_id).select_related("bay__room")
    return the(rows, number, "shelf of this room")


@usecase("stock_take.conclude", power=Power.TAKE_STOCK, subject="stock_take")
def conclude_stock_take(
    *, stock_take: str, conclusion: str, actor: Actor, at: datetime
) -> None:
    """End a stock-take; what was not looked at stays counted as not looked at.

    Raises:
        Mistaken: nothing is said in conclusion.
        Refused: nothing was drawn, or it has ended.
    """
    take = locked_stock_take(stock_take, actor)
    if take.state != StockTake.State.DRAWN:
        raise Refused(f"{take.number} is {take.get_state_display()}.")
    _end(take, StockTake.State.CONCLUDED, "conclusion", conclusion, actor, at)


@usecase("stock_take.abandon", power=Power.TAKE_STOCK, subject="stock_take")
def abandon_stock_take(
    *, stock_take: str, reason: str, actor: Actor, at: datetime
) -> None:
    """Give a stock-take up, with a reason; the next one of the same kind says so.

    Raises:
        Mistaken: no reason is given.
        Refused: it has ended.
    """
    take = locked_stock_take(stock_take, actor)
    if take.ended_at:
        raise Refused(f"{take.number} is {take.get_state_display()}.")
    _end(take, StockTake.State.ABANDONED, "reason", reason, actor, at)


def _end(
    take: StockTake,
    state: StockTake.State,
    field: str,
    text: str,
    actor: Actor,
    at: datetime,
) -> None:
    if not text.strip():
        raise Mistaken({field: ["Say in a sentence what came of it, or why it ends."]})
    if len(text.strip()) > 400:
        raise Mistaken({field: ["Shorten this to 400 characters."]})
    take.state = state
    take.conclusion = text.strip()
    take.ended_at = at
    take.ended_by_id = actor.person_id
    take.save()
    note_access(take.number)
