"""Paper forms as their pages show them: each number, and the account of a room."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from django.db.models import Count, QuerySet

from registry.models import FallbackForm, FormKind, StrongRoom
from registry.queries.scope import rooms_of
from registry.queries.timeline import TimelineEntry, timeline_of, words_for
from registry.rules.paper_forms import Account, Line, account_of
from registry.rules.powers import Actor

TONES = {
    "blank": "plain",
    "in-entry": "wait",
    "entered": "clear",
    "spoilt": "ended",
    "returned": "ended",
    "lost": "stop",
}


@dataclass(frozen=True)
class FormRow:
    """A paper form in a list."""

    number: str
    kind: str
    kind_title: str
    room: str
    state: str
    state_title: str
    tone: str
    printed_at: datetime
    printed_by: str
    used: int
    skipped: bool = False


@dataclass(frozen=True)
class FormUse:
    """One act that was entered from a form, with both its times.

    Attributes:
        name: the act, as the history names it; ``act`` says it in plain words.
    """

    name: str
    act: str
    subject: str
    occurred_at: datetime
    recorded_at: datetime
    recorded_by: str


@dataclass(frozen=True)
class FormFile:
    """Everything that the page of a paper form shows."""

    row: FormRow
    room_number: str
    ended_at: datetime | None
    ended_by: str
    note: str
    document: str
    uses: tuple[FormUse, ...]
    timeline: tuple[TimelineEntry, ...]

    @property
    def doors_not_closed(self) -> tuple[str, ...]:
        """The openings entered from it whose closing was not entered from it yet."""
        closed = {use.subject for use in self.uses if use.name == "door.close"}
        opened = (use.subject for use in self.uses if use.name == "door.open")
        return tuple(number for number in opened if number not in closed)


@dataclass(frozen=True)
class KindAccount:
    """What became of the forms of one kind in one room."""

    room: str
    kind_title: str
    account: Account


@dataclass(frozen=True)
class FormList:
    """The paper forms within somebody's scope, with their account."""

    rows: tuple[FormRow, ...]
    accounts: tuple[KindAccount, ...]
    rooms: tuple[tuple[str, str], ...]
    next_after: int | None


def forms_of(actor: Actor) -> QuerySet[FallbackForm]:
    """The paper forms the actor may see: those of the rooms in scope."""
    return FallbackForm.objects.filter(room__in=rooms_of(actor))


def form_list(
    actor: Actor, *, room: str, kind: str, state: str, after: int, page: int
) -> FormList:
    """Gather a page of the forms, the newest first, and the account of them all.

    Args:
        room, kind, state: what the list is narrowed to; empty means any.
        after: id of the last form of the page before, 0 for the first page.
        page: how many stand on one.
    """
    accounts = tuple(accounts_of(forms_of(actor)))
    skipped = {number for part in accounts for number in part.account.skipped}
    rows = forms_of(actor)
    wanted = {"room__number": room, "kind": kind, "state": state}
    rows = rows.filter(**{name: value for name, value in wanted.items() if value})
    if after:
        rows = rows.filter(pk__lt=after)
    found = list(_counted(rows).order_by("-id")[: page + 1])
    return FormList(
        rows=tuple(_row(form, form.number in skipped) for form in found[:page]),
        accounts=accounts,
        rooms=tuple(rooms_of(actor).order_by("id").values_list("number", "name")),
        next_after=found[page - 1].pk if len(found) > page else None,
    )


def _counted(rows: QuerySet[FallbackForm]) -> QuerySet[FallbackForm]:
    return rows.select_related("room", "printed_by").annotate(used=Count("uses"))


def _row(form: FallbackForm, skipped: bool) -> FormRow:
    return FormRow(
        number=form.number,
        kind=form.kind,
        kind_title=form.get_kind_display(),
        room=str(form.room),
        state=form.state,
        state_title=form.get_state_display(),
        tone="wait" if skipped else TONES[form.state],
        printed_at=form.printed_at,
        printed_by=form.printed_by.name,
        used=form.used,  # type: ignore[attr-defined] # annotated
        skipped=skipped,
    )


def accounts_of(rows: QuerySet[FallbackForm]) -> Iterator[KindAccount]:
    """Return the account of these forms, room by room and kind by kind."""
    lines = (
        rows.annotate(used=Count("uses"))
        .order_by("room_id", "kind", "number")
        .values_list("room__name", "kind", "number", "state", "used")
    )
    for (room, kind), group in groupby(lines, key=lambda line: line[:2]):
        account = account_of(Line(*line[2:]) for line in group)
        yield KindAccount(room, FormKind(kind).label, account)


def account_of_room(room: StrongRoom, kind: str) -> Account:
    """Return the account of one kind of forms of a room."""
    rows = FallbackForm.objects.filter(room=room, kind=kind)
    [found] = accounts_of(rows)
    return found.account


def form_file(form: FallbackForm) -> FormFile:
    """Gather what the page of a form shows."""
    account = account_of_room(form.room, form.kind)
    row = _counted(FallbackForm.objects.filter(pk=form.pk)).get()
    uses = form.uses.select_related("recorded_by").order_by("occurred_at", "id")
    return FormFile(
        row=_row(row, form.number in account.skipped),
        room_number=form.room.number,
        ended_at=form.ended_at,
        ended_by=form.ended_by.name if form.ended_by else "",
        note=form.note,
        document=form.document.number if form.document else "",
        uses=tuple(
            FormUse(
                use.act, words_for(use.act), use.subject,
                use.occurred_at, use.recorded_at, use.recorded_by.name,
            )
            for use in uses
        ),
        timeline=tuple(timeline_of(form)),
    )  # fmt: skip
