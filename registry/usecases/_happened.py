"""When something happened, where it was taken down on paper and entered later."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.timezone import localtime

from registry.models import (
    Box,
    CustodyMovement,
    Envelope,
    FallbackForm,
    FallbackUse,
    StrongRoom,
)
from registry.queries.find import the
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor
from registry.usecases._door import Mistaken, Refused
from registry.usecases._records import enter_many


@dataclass(frozen=True)
class Happened:
    """When an act took place, where that was before it is entered.

    Attributes:
        at: the moment, as it stands on the form.
        form: number of the paper form on which it was taken down.
    """

    at: datetime
    form: str


def moment(
    happened: Happened | None, room: StrongRoom | None, *, actor: Actor, at: datetime
) -> datetime:
    """Return when an act happened: now, or as a form of this room says.

    Raises:
        Mistaken: it lies ahead, or before the form was printed.
        Refused: the form is of another room, or its number was accounted for.
    """
    if happened is None:
        return at
    form = _form(happened, actor)
    if happened.at > at:
        raise Mistaken(happened_at="This moment has not come yet.")
    # Nobody writes seconds on a form: the minute of its printing counts.
    if happened.at < form.printed_at.replace(second=0, microsecond=0):
        printed_at = localtime(form.printed_at)
        raise Mistaken(
            happened_at=f"Form {form.number} was printed on "
            f"{printed_at:%-d %B %Y at %H:%M}; this moment is before that."
        )
    if room is not None and form.room_id != room.pk:
        raise Refused(f"Form {form.number} was printed for {form.room}.")
    if form.state not in (FallbackForm.State.BLANK, FallbackForm.State.IN_ENTRY):
        raise Refused(
            f"Form {form.number} is {form.get_state_display()}: nothing more is "
            "entered from it."
        )
    return happened.at


def moment_of(
    container: Box | Envelope, happened: Happened | None, *, actor: Actor, at: datetime
) -> datetime:
    """Return when an act on a container happened: now, or as a form says.

    Raises:
        Mistaken: as ``moment``; or it lies before the container came in.
        Refused: as ``moment``.
    """
    occurred_at = moment(happened, container.room, actor=actor, at=at)
    if happened is None:
        return occurred_at
    received = container.movements.filter(act=CustodyMovement.Act.RECEIVED)
    came_in = received.filter(occurred_at__gt=occurred_at).first()
    if came_in:
        when = localtime(came_in.occurred_at)
        raise Mistaken(
            happened_at=f"{container.number} came in on {when:%-d %B %Y at %H:%M}; "
            "this moment is before that."
        )
    return occurred_at


def done_since(
    container: Box | Envelope, occurred_at: datetime
) -> CustodyMovement | None:
    """Return what was done with a container after this moment, the newest of it."""
    later = container.movements.filter(occurred_at__gt=occurred_at)
    return later.order_by("-occurred_at", "-id").first()


def moved_since(container: Box | Envelope, occurred_at: datetime) -> bool:
    """Tell whether a container changed its place after this moment.

    What is entered late must not undo what happened since: a box that was shelved at
    ten and moved at noon stands where it was moved to, whichever is entered last.
    """
    handed_over = CustodyMovement.Act.HANDED_OVER  # a change of charge, not of place
    later = container.movements.filter(occurred_at__gt=occurred_at)
    return later.exclude(act=handed_over).exists()


def place_then(container: Box | Envelope, occurred_at: datetime) -> str:
    """Return where a container was at a moment gone by, as far as is entered."""
    earlier = container.movements.filter(occurred_at__lte=occurred_at)
    last = earlier.exclude(to_place="").order_by("-occurred_at", "-id").first()
    return last.to_place if last else ""


def refuse_overtaken(container: Box | Envelope, happened: Happened | None) -> None:
    """Raise Refused where something that happened later says otherwise already."""
    later = done_since(container, happened.at) if happened else None
    if later:
        when = localtime(later.occurred_at)
        raise Refused(
            f"{container.number} was {later.get_act_display()} on "
            f"{when:%-d %B %Y at %H:%M}, after this moment, so this does not hold any "
            "more. Report it as a discrepancy, with the form's number."
        )


def note_use(
    happened: Happened | None, act: str, subject: str, *, actor: Actor, at: datetime
) -> None:
    """Enter that an act was taken down on a form, so that its number is used."""
    if happened is None:
        return
    form = _form(happened, actor)
    if form.state == FallbackForm.State.BLANK:
        form.state = FallbackForm.State.IN_ENTRY
        form.save()
    enter_many(
        [
            FallbackUse(
                form=form,
                act=act,
                subject=subject,
                occurred_at=happened.at,
                recorded_at=at,
                recorded_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
            )
        ]
    )


def _form(happened: Happened, actor: Actor) -> FallbackForm:
    rows = FallbackForm.objects.select_for_update(of=("self",)).filter(
        room__in=rooms_of(actor)
    )
    return the(rows.select_related("room"), happened.form, "paper form")
