"""Where containers stand on their way from the table to the shelf, and who saw them."""

from collections.abc import Iterator, Mapping
from datetime import datetime

from registry.rules.reconciliation_facts import (
    ELSEWHERE,
    Box,
    Container,
    ContestFacts,
    Envelope,
    Place,
    Standing,
)
from registry.rules.reconciliation_findings import Difference, Reason

SEARCH = (
    "Look on the shelves beside and below, at the intake table and in the boxes of "
    "the same contest; enter what is found. It stays on the register, and its time "
    "of keeping runs on: only the authority writes it off."
)


def not_put_away(facts: ContestFacts) -> Iterator[Difference]:
    """Name what is registered and has not come as far as its shelf."""
    boxes = {box.number: box for box in facts.boxes}
    for envelope in facts.envelopes:
        if envelope.is_live:
            yield from _of_envelope(envelope, boxes, facts.number)
    for box in facts.boxes:
        if box.contest == facts.number and box.standing is Standing.HELD:
            yield from _of_box(box)


def not_as_seen(facts: ContestFacts) -> Iterator[Difference]:
    """Name what was not found, was seen elsewhere, or was never seen at all."""
    own = [box for box in facts.boxes if box.contest == facts.number]
    for container in (*own, *facts.envelopes):
        if container.is_live and container.place not in ELSEWHERE:
            yield from _of_sight(container)


def _of_envelope(
    envelope: Envelope, boxes: Mapping[str, Box], contest: str
) -> Iterator[Difference]:
    box = boxes.get(envelope.box)
    if box and box.contest != contest:
        yield _placed(
            Reason.OTHER_CONTESTS_BOX,
            envelope,
            f"{envelope.name} lies in {box.name}, a box of {box.contest_title}.",
            "A box holds one contest: have the box opened under a permission, take "
            "the envelope out and seal the box anew.",
            written=f"in {box.number}",
            expected="in a box of its own contest",
        )
    elif envelope.standing is Standing.HELD and envelope.place is Place.INTAKE:
        yield _placed(
            Reason.NOT_BOXED,
            envelope,
            f"{envelope.name} lies at the intake table.",
            "Put it into a box of its own contest and content.",
            written="at the intake table",
            expected="in a box",
        )


def _of_box(box: Box) -> Iterator[Difference]:
    if box.place is not Place.INTAKE:
        return
    if not box.is_closed:
        yield _placed(
            Reason.BOX_NOT_CLOSED,
            box,
            f"{box.name} is still open.",
            "Fill it, close it, seal it with a numbered seal and put it on a shelf.",
            written="open",
            expected="closed and sealed",
        )
    else:
        yield _placed(
            Reason.NOT_SHELVED,
            box,
            f"{box.name} is closed and stands at the intake table.",
            "Put it on a shelf; heavy boxes low.",
            written="at the intake table",
            expected="on a shelf",
        )


def _of_sight(container: Container) -> Iterator[Difference]:
    seen = container.seen
    if container.place is Place.MISSING:
        yield _sighted(
            Reason.NOT_FOUND,
            container,
            f"{container.name} was reported as not found.",
            SEARCH,
            container.not_found_at,
        )
    elif seen is None:
        if container.standing is Standing.HELD:
            yield _placed(
                Reason.NEVER_SEEN,
                container,
                f"Nobody is on record as having seen {container.name}.",
                "Look for it on its place and enter the sighting.",
                written="never seen",
                expected="seen",
            )
    elif not seen.found:
        yield _sighted(
            Reason.NOT_FOUND,
            container,
            f"{container.name} was looked for in vain on "
            f"{seen.at:%-d %B %Y}{_at(seen.where)}.",
            SEARCH,
            seen.at,
        )
    elif not seen.as_registered:
        yield _sighted(
            Reason.SEEN_ELSEWHERE,
            container,
            f"{container.name} was seen on {seen.at:%-d %B %Y}{_at(seen.where)}; the "
            "register has it elsewhere.",
            "Go and look: then put it where the register has it, or enter the move.",
            seen.at,
        )


def _at(where: str) -> str:
    return f", {where}" if where else ""


def _placed(
    reason: Reason, container: Container, text: str, remedy: str, **said: str
) -> Difference:
    return Difference(reason, container.kind, (container.number,), text, remedy, **said)  # type: ignore[arg-type]


def _sighted(
    reason: Reason,
    container: Container,
    text: str,
    remedy: str,
    since: datetime | None,
) -> Difference:
    return Difference(
        reason, container.kind, (container.number,), text, remedy, since=since
    )
