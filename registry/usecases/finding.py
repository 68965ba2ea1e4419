"""The search box: any number, scanned code or name, from any page."""

from dataclasses import dataclass
from datetime import datetime

from registry.queries.finding import Hit, search
from registry.queries.numbered import leads_to
from registry.rules.numbers import NumberMistyped, looks_like_number, read
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase

__all__ = ["Answer", "Hit", "find"]

LONGEST = 200


@dataclass(frozen=True)
class Answer:
    """What a search led to.

    Attributes:
        number: the register number of the page to open at once; empty otherwise.
        problem: why the number typed leads nowhere; empty otherwise.
        hits: what bears the text; ``near``: what differs from it by one slip.
        cut: whether more was found than is shown.
    """

    asked: str
    number: str = ""
    problem: str = ""
    mistyped: bool = False
    hits: tuple[Hit, ...] = ()
    near: tuple[Hit, ...] = ()
    cut: bool = False


@usecase("register.find", power=Power.SEE_ELECTIONS)
def find(*, text: str, actor: Actor, at: datetime) -> Answer:
    """Find what was typed or scanned, within the actor's scope.

    A register number leads straight to its page. A mistyped one leads nowhere: its
    check character tells, and the nearest other number is never guessed.
    """
    # A scanner may send control characters, which no column holds.
    plain = "".join(mark if mark.isprintable() else " " for mark in text)
    asked = " ".join(plain.split())[:LONGEST]
    note_access(asked=asked)
    if not asked:
        return Answer(asked)
    if looks_like_number(asked):
        return _by_number(asked, actor)
    found = search(asked, actor)
    containers = (h.number for h in (*found.hits, *found.near) if h.is_container)
    note_access(shown=dict.fromkeys(containers), found=len(found.hits))
    return Answer(asked, hits=found.hits, near=found.near, cut=found.cut)


def _by_number(asked: str, actor: Actor) -> Answer:
    try:
        number = read(asked)
    except NumberMistyped as error:
        note_access(mistyped=True)
        return Answer(asked, problem=str(error), mistyped=True)
    page = leads_to(number, actor)
    note_access(number if page else "", found=int(page is not None))
    if page is None:
        return Answer(
            asked, problem=f"There is nothing under {number} that you may see."
        )
    return Answer(asked, number=page)
