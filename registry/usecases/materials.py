"""Material for sealing: issued for a contest, used, and what came back."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import Contest, MaterialEnd, MaterialIssue, MaterialKind
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.materials import is_seal
from registry.queries.scope import contests_of
from registry.rules.powers import Actor, Power
from registry.rules.seal_numbers import NoRange, SealRange, seal_range
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._records import enter

KINDS: tuple[tuple[str, str], ...] = tuple(MaterialKind.choices)


@dataclass(frozen=True)
class Pieces:
    """Which pieces: seals from one serial to another, or so many that are counted.

    Attributes:
        last: empty where it is one seal.
    """

    first: str = ""
    last: str = ""
    count: int | None = None


@usecase("material.issue", power=Power.KEEP, subject="contest")
def issue_material(
    *,
    contest: str,
    kind: str,
    pieces: Pieces,
    issued_on: date,
    issued_to: str,
    maker: str = "",
    receipt: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Record material that was issued for a contest; returns the lot's number.

    Numbers that were issued before are recorded as well: they were issued twice, and
    the account says so.

    Raises:
        Mistaken: the serials make no range, or this very lot is recorded already.
    """
    of = the(contests_of(actor), contest, "contest")
    if kind not in MaterialKind.values:
        raise Mistaken(kind="Choose what was issued.")
    if not issued_to.strip():
        raise Mistaken(issued_to="Name the person who received it, with the post.")
    _refuse_to_come(of, issued_on, at, "issued_on")
    numbers = _numbers(kind, pieces)
    lot = MaterialIssue(
        contest=of,
        kind=kind,
        maker=maker.strip(),
        maker_plain=" ".join(maker.casefold().split()),
        first_serial=str(numbers.first) if numbers else "",
        last_serial=str(numbers.last) if numbers else "",
        count=len(numbers) if numbers else _count(pieces),
        issued_on=issued_on,
        issued_to=issued_to.strip(),
        receipt=receipt.strip(),
        recorded_at=at,
        recorded_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
    )
    _refuse_the_same_lot(lot)
    enter(lot)
    note_access(of.number, lot=lot.number, kind=kind, pieces=lot.count)
    return lot.number


def _refuse_the_same_lot(lot: MaterialIssue) -> None:
    if not lot.first_serial:
        return
    same = MaterialIssue.objects.filter(
        contest=lot.contest,
        kind=lot.kind,
        maker_plain=lot.maker_plain,
        first_serial=lot.first_serial,
        last_serial=lot.last_serial,
    ).first()
    if same:
        raise Mistaken(
            first_serial=f"These seals are recorded already, as {same.number}."
        )


def _numbers(kind: str, pieces: Pieces) -> SealRange | None:
    if not is_seal(kind):
        if pieces.first or pieces.last:
            raise Mistaken(
                first_serial="Envelopes and boxes bear no number of their own here: "
                "give how many."
            )
        return None
    if not pieces.first.strip():
        raise Mistaken(first_serial="Give the number of the first seal.")
    try:
        numbers = seal_range(pieces.first, pieces.last.strip() or pieces.first)
    except NoRange as error:
        raise Mistaken(last_serial=str(error)) from error
    if pieces.count is not None and pieces.count != len(numbers):
        raise Mistaken(
            count=f"From {numbers.first} to {numbers.last} there are {len(numbers)} "
            f"seals, not {pieces.count}: count them again."
        )
    return numbers


def _count(pieces: Pieces) -> int:
    if not pieces.count or pieces.count < 1:
        raise Mistaken(count="Say how many, 1 or more.")
    return pieces.count


def _refuse_to_come(of: Contest, day: date, at: datetime, field: str) -> None:
    if day > legal_date(of.election, at):
        raise Mistaken({field: ["This day has not come yet."]})


@usecase("material.spoil", power=Power.KEEP, subject="lot")
def record_spoilt(
    *,
    lot: str,
    pieces: Pieces,
    on: date,
    kept_in: str,
    note: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Record pieces that were spoilt; they are kept until the matter is closed."""
    if not kept_in.strip():
        raise Mistaken(
            kept_in="Say where the spoilt pieces are kept: they prove that nobody "
            "has them."
        )
    fate = MaterialEnd.Fate.SPOILT
    return _end(lot, pieces, on, fate, kept_in, note, actor, at)


@usecase("material.return", power=Power.KEEP, subject="lot")
def record_returned(
    *,
    lot: str,
    pieces: Pieces,
    on: date,
    note: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Record pieces that came back unused."""
    fate = MaterialEnd.Fate.RETURNED
    return _end(lot, pieces, on, fate, "", note, actor, at)


@usecase("material.lose", power=Power.KEEP, subject="lot")
def record_lost(
    *,
    lot: str,
    pieces: Pieces,
    on: date,
    note: str,
    actor: Actor,
    at: datetime,
) -> str:
    """Record pieces that are lost, with how and on whose word."""
    if not note.strip():
        raise Mistaken(note="Say how they were lost, and on whose word.")
    return _end(lot, pieces, on, MaterialEnd.Fate.LOST, "", note, actor, at)


ENDINGS: dict[str, Callable[..., str]] = {
    "spoilt": record_spoilt,
    "returned": record_returned,
    "lost": record_lost,
}


def _end(
    number: str,
    pieces: Pieces,
    on: date,
    fate: MaterialEnd.Fate,
    kept_in: str,
    note: str,
    actor: Actor,
    at: datetime,
) -> str:
    rows = MaterialIssue.objects.select_for_update(of=("self",)).filter(
        contest__in=contests_of(actor)
    )
    lot = the(rows.select_related("contest__election"), number, "lot of material")
    _refuse_to_come(lot.contest, on, at, "on")
    if on < lot.issued_on:
        raise Mistaken(on=f"The lot was issued on {lot.issued_on:%-d %B %Y}, later.")
    numbers = _numbers(lot.kind, pieces)
    count = len(numbers) if numbers else _count(pieces)
    _refuse_what_is_not_of_it(lot, numbers, count)
    end = enter(
        MaterialEnd(
            issue=lot,
            fate=fate,
            first_serial=str(numbers.first) if numbers else "",
            last_serial=str(numbers.last) if numbers else "",
            count=count,
            occurred_on=on,
            kept_in=kept_in.strip(),
            note=note.strip(),
            recorded_at=at,
            recorded_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
        )
    )
    note_access(lot.number, contest=lot.contest.number, end=end.number, pieces=count)
    return end.number


def _refuse_what_is_not_of_it(
    lot: MaterialIssue, numbers: SealRange | None, count: int
) -> None:
    """Refuse pieces that the lot has not, and those that ended before."""
    ended = list(lot.ends.order_by("id"))
    if numbers is None:
        left = lot.count - sum(end.count for end in ended)
        if count > left:
            raise Mistaken(
                count=f"{lot.number} was {lot.count}, of which {lot.count - left} are "
                f"recorded as spoilt, returned or lost: {left} are left."
            )
        return
    issued = seal_range(lot.first_serial, lot.last_serial)
    if not issued.covers(numbers):
        raise Mistaken(
            first_serial=f"{lot.number} is {issued}: {numbers} is not in it."
        )
    plain = {number.plain for number in numbers}
    for end in ended:
        for number in seal_range(end.first_serial, end.last_serial):
            if number.plain in plain:
                raise Mistaken(
                    first_serial=f"{number} is recorded as {end.get_fate_display()} "
                    f"already, with {end.number}."
                )
