"""Looking at hand-overs of charge: listed, read, begun, printed."""

from dataclasses import dataclass
from datetime import datetime

from registry.documents.hand_overs import HandOverPaper, hand_over_pdf
from registry.models import ChargeHandOver, Election, User
from registry.queries.find import the
from registry.queries.hand_overs import (
    HandOverFile,
    HandOverRow,
    hand_over_file,
    hand_over_row,
    hand_overs_of,
    with_people,
)
from registry.queries.keeping import legal_date
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import note_access, usecase
from registry.usecases.hand_overs import stated_lines
from registry.usecases.papers import Printed


@usecase("hand_over.list", power=Power.LOOK)
def list_hand_overs(*, actor: Actor, at: datetime) -> tuple[HandOverRow, ...]:
    """List the hand-overs within the actor's scope, the newest first."""
    rows = with_people(hand_overs_of(actor)).order_by("-id")
    note_access(listed=rows.count())
    return tuple(hand_over_row(of) for of in rows)


@dataclass(frozen=True)
class HandOverPage:
    """A hand-over, and what the one who looks may do with it.

    Attributes:
        gives: the looker signs on the side that hands over.
        takes: the looker takes over.
    """

    file: HandOverFile
    gives: bool
    takes: bool


@usecase("hand_over.look", power=Power.LOOK, subject="hand_over")
def look_at_hand_over(*, hand_over: str, actor: Actor, at: datetime) -> HandOverPage:
    """Open a hand-over's page."""
    return _page(hand_over, actor, at)


@usecase("hand_over.look", power=Power.KEEP, subject="hand_over")
def look_before_handing_over(
    *, hand_over: str, actor: Actor, at: datetime
) -> HandOverPage:
    """Open a form about a hand-over; who keeps nothing is refused here."""
    return _page(hand_over, actor, at)


@dataclass(frozen=True)
class OfferedForHandOver:
    """What the form of a statement offers: (register number, name)."""

    rooms: tuple[tuple[str, str], ...]
    custodians: tuple[tuple[str, str], ...]
    self_number: str


@usecase("hand_over.prepare", power=Power.KEEP)
def prepare_hand_over(*, actor: Actor, at: datetime) -> OfferedForHandOver:
    """Open the form of a statement."""
    people = User.objects.filter(role=Role.CUSTODIAN.value).order_by("name")
    me = people.filter(username=actor.username).first()
    return OfferedForHandOver(
        rooms=tuple(rooms_of(actor).order_by("id").values_list("number", "name")),
        custodians=tuple(people.values_list("number", "name")),
        self_number=me.number if me else "",
    )


@usecase("hand_over.print", power=Power.LOOK, subject="hand_over")
def print_hand_over(*, hand_over: str, actor: Actor, at: datetime) -> Printed:
    """Print a hand-over as it stands, for signatures by hand."""
    file = _page(hand_over, actor, at).file
    made_by = f"{actor.name} ({actor.role_title})"
    content = hand_over_pdf(HandOverPaper(file, at, made_by))
    return Printed(f"hand-over-{file.row.number}.pdf", content)


def _page(number: str, actor: Actor, at: datetime) -> HandOverPage:
    of: ChargeHandOver = the(with_people(hand_overs_of(actor)), number, "hand-over")
    on = legal_date(Election.objects.order_by("id").first(), at)
    file = hand_over_file(of, stated_lines(of), on)
    note_access(of.number, shown=[look.line.number for look in file.looks])
    giver = of.stated_by_id if of.outgoing_absent else of.outgoing_id
    return HandOverPage(
        file,
        gives=actor.person_id == giver,
        takes=actor.person_id == of.incoming_id,
    )
