"""Paper forms for hours without a network: printed and accounted for one by one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.timezone import localtime

from registry.documents.paper_forms import BlankForm, paper_forms_pdf
from registry.models import AccessEntry, AccessShown, FallbackForm, FormKind
from registry.queries.find import the
from registry.queries.paper_forms import (
    FormFile,
    FormList,
    FormRow,
    KindAccount,
    form_file,
    form_list,
    forms_of,
)
from registry.queries.scope import rooms_of
from registry.rules.paper_forms import obstacle_to_ending
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._happened import Happened
from registry.usecases._records import enter_many
from registry.usecases.documents import Upload, keep_document
from registry.usecases.papers import Printed

__all__ = ["FormFile", "FormList", "FormRow", "Happened", "KindAccount"]

# A pad for one night; more than that is printed when it is needed.
MOST = 100
PAGE = 50
KINDS = tuple(FormKind.choices)
STATES = tuple(FallbackForm.State.choices)


@dataclass(frozen=True)
class FormsWanted:
    """What the list of paper forms is asked for; empty means any."""

    room: str = ""
    kind: str = ""
    state: str = ""
    after: int = 0


@usecase("paper_form.list", power=Power.LOOK)
def list_forms(*, wanted: FormsWanted, actor: Actor, at: datetime) -> FormList:
    """List the paper forms of the actor's rooms, with the account of every number."""
    note_access(**{name: value for name, value in vars(wanted).items() if value})
    return form_list(actor, **vars(wanted), page=PAGE)


@usecase("paper_form.look", power=Power.LOOK, subject="form")
def look_at_form(*, form: str, actor: Actor, at: datetime) -> FormFile:
    """Open the page of a paper form: what was entered from it, with both times."""
    of = the(forms_of(actor), form, "paper form")
    note_access(of.number)
    return form_file(of)


@usecase("paper_form.prepare", power=Power.KEEP, subject="form")
def look_at_form_to_act(*, form: str, actor: Actor, at: datetime) -> FormFile:
    """Show a form to the person who is about to enter what stands on it."""
    of = the(forms_of(actor), form, "paper form")
    note_access(of.number)
    return form_file(of)


@usecase("paper_form.prepare", power=Power.KEEP)
def rooms_for_forms(*, actor: Actor, at: datetime) -> tuple[tuple[str, str], ...]:
    """Name the strong rooms for which the actor may give out forms."""
    return tuple(rooms_of(actor).order_by("id").values_list("number", "name"))


@usecase("paper_form.issue", power=Power.KEEP, subject="room")
def issue_forms(
    *, room: str, kind: str, count: int, actor: Actor, at: datetime
) -> tuple[str, ...]:
    """Give out new form numbers for a room; each is accounted for from now on.

    Args:
        kind: what the forms take down, one of ``FormKind``.
        count: how many, 1 to ``MOST``.

    Returns:
        The numbers, in order; ``print_forms`` puts them on paper.
    """
    of = the(rooms_of(actor), room, "strong room")
    if kind not in FormKind.values:
        raise Mistaken(kind="Say what the forms are for.")
    if not 1 <= count <= MOST:
        raise Mistaken(count=f"Print 1 to {MOST} forms at a time.")
    forms = enter_many(
        [
            FallbackForm(
                kind=kind,
                room=of,
                printed_at=at,
                printed_by_id=actor.person_id,  # type: ignore[misc] # KEEP is a person's
            )
            for _ in range(count)
        ]
    )
    numbers = tuple(form.number for form in forms)
    note_access(of.number, shown=numbers, kind=kind, forms=count)
    return numbers


@dataclass(frozen=True)
class SheetToPrint:
    """A form that is about to be put on paper; ``printed`` counts earlier times."""

    number: str
    kind_title: str
    room: str
    state: str
    state_title: str
    printed: int


@usecase("paper_form.prepare_print", power=Power.KEEP)
def look_at_run(
    *, first: str, count: int, actor: Actor, at: datetime
) -> tuple[SheetToPrint, ...]:
    """Show which sheets would be printed, and how often each was before.

    Args:
        first: the first of them.
        count: how many of the same room and kind, that one included.
    """
    of = the(forms_of(actor), first, "paper form")
    like = forms_of(actor).filter(room=of.room, kind=of.kind, pk__gte=of.pk)
    rows = list(like.select_related("room").order_by("pk")[: min(count, MOST)])
    before = _times_printed([row.number for row in rows])
    note_access(of.number, shown=[row.number for row in rows])
    return tuple(
        SheetToPrint(
            row.number, row.get_kind_display(), row.room.name, row.state,
            row.get_state_display(), before.get(row.number, 0),
        )
        for row in rows
    )  # fmt: skip


@usecase("paper_form.print", power=Power.KEEP)
def print_forms(
    *, forms: Sequence[str], enter_at: str, actor: Actor, at: datetime
) -> Printed:
    """Put blank forms on paper; a form that was printed before says so on the sheet.

    Args:
        forms: their numbers.
        enter_at: where the register is found, printed on each sheet.

    Raises:
        Refused: one of them is not blank any more.
    """
    if not forms:
        raise Mistaken(forms="Name at least one form.")
    rows = [the(forms_of(actor), number, "paper form") for number in forms]
    used = [form.number for form in rows if form.state != FallbackForm.State.BLANK]
    if used:
        raise Refused(
            f"{', '.join(used)} is not blank any more: two sheets would bear one "
            "number. Give out new numbers instead."
        )
    before = _times_printed([form.number for form in rows])
    numbers = [form.number for form in rows]
    note_access(numbers[0], shown=numbers, forms=len(numbers))
    sheets = [
        BlankForm(
            number=form.number,
            kind=form.kind,
            room=form.room.name,
            printed_at=form.printed_at,
            printed_by=actor.name,
            times_printed=before.get(form.number, 0) + 1,
        )
        for form in rows
    ]
    content = paper_forms_pdf(sheets, localtime(at), actor.name, enter_at=enter_at)
    return Printed(f"paper-forms-{numbers[0]}.pdf", content)


def _times_printed(numbers: Sequence[str]) -> dict[str, int]:
    """Return how often each form was put on paper before."""
    times: dict[str, int] = {}
    shown = AccessShown.objects.filter(
        number__in=numbers,
        entry__act="paper_form.print",
        entry__outcome=AccessEntry.Outcome.DONE,
    )
    for number in shown.values_list("number", flat=True):
        times[number] = times.get(number, 0) + 1
    return times


@usecase("paper_form.mark_entered", power=Power.KEEP, subject="form")
def mark_entered(
    *,
    form: str,
    note: str = "",
    document: Upload | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Say that everything on a form is entered, and keep a scan of it if there is one.

    Raises:
        Refused: nothing was entered from it yet, or it is accounted for already.
    """
    _end(form, FallbackForm.State.ENTERED, note, actor, at, document)


@usecase("paper_form.spoil", power=Power.KEEP, subject="form")
def spoil(*, form: str, note: str, actor: Actor, at: datetime) -> None:
    """Record that a form was spoilt; the sheet is kept."""
    if not note.strip():
        raise Mistaken(note="Say how it was spoilt and where the sheet is kept.")
    _end(form, FallbackForm.State.SPOILT, note, actor, at)


@usecase("paper_form.return", power=Power.KEEP, subject="form")
def return_unused(*, form: str, note: str = "", actor: Actor, at: datetime) -> None:
    """Record that a blank form was struck through and returned."""
    _end(form, FallbackForm.State.RETURNED, note, actor, at)


@usecase("paper_form.report_lost", power=Power.KEEP, subject="form")
def report_lost(*, form: str, note: str, actor: Actor, at: datetime) -> None:
    """Record that nobody can say where a form is."""
    if not note.strip():
        raise Mistaken(note="Say where it was looked for, and who had it last.")
    _end(form, FallbackForm.State.LOST, note, actor, at)


@usecase("paper_form.report_found", power=Power.KEEP, subject="form")
def report_found(*, form: str, note: str, actor: Actor, at: datetime) -> None:
    """Record that a lost form turned up; it stands again as it stood before."""
    of = _locked(form, actor)
    if of.state != FallbackForm.State.LOST:
        raise Refused(f"{of.number} was not reported lost.")
    if not note.strip():
        raise Mistaken(note="Say where it was found, and by whom.")
    used = of.uses.exists()
    of.state = FallbackForm.State.IN_ENTRY if used else FallbackForm.State.BLANK
    of.ended_at, of.ended_by = None, None
    of.note = _noted(of.note, note)
    of.save()
    note_access(of.number)


def _locked(number: str, actor: Actor) -> FallbackForm:
    rows = forms_of(actor).select_for_update(of=("self",))
    return the(rows, number, "paper form")


def _end(
    number: str,
    end: FallbackForm.State,
    note: str,
    actor: Actor,
    at: datetime,
    document: Upload | None = None,
) -> None:
    of = _locked(number, actor)
    obstacle = obstacle_to_ending(of.state, of.uses.count(), end.value)
    if obstacle:
        raise Refused(f"{of.number} is {of.get_state_display()}. {obstacle}")
    of.state = end
    of.ended_at = at
    of.ended_by_id = actor.person_id
    of.note = _noted(of.note, note)
    if document is not None:
        of.document = keep_document(document)
    of.save()
    note_access(of.number)


def _noted(before: str, note: str) -> str:
    """Return what was noted before with what is noted now."""
    noted = " ".join(filter(None, [before, note.strip()]))
    if len(noted) > 400:
        raise Mistaken(note="The note of this form is full: be shorter.")
    return noted
