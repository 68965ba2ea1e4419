"""When something happened, where it was taken down on paper and entered later."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import FallbackForm, FallbackUse, StrongRoom
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
    if happened.at < form.printed_at:
        raise Mistaken(
            happened_at=f"Form {form.number} was printed on "
            f"{form.printed_at:%-d %B %Y at %H:%M}; this moment is before that."
        )
    if room is not None and form.room_id != room.pk:
        raise Refused(f"Form {form.number} was printed for {form.room}.")
    if form.state not in (FallbackForm.State.BLANK, FallbackForm.State.IN_ENTRY):
        raise Refused(
            f"Form {form.number} is {form.get_state_display()}: nothing more is "
            "entered from it."
        )
    return happened.at


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
