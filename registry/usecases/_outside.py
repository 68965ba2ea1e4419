"""What acts on a container that is outside have in common."""

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from registry.models import Box, Envelope, Production, Whereabouts
from registry.queries.keeping import legal_date, legal_zone
from registry.usecases._door import Mistaken, Refused

OUTSIDE = (Whereabouts.OUT, Whereabouts.KEPT)
# The narrowest column into which each of these texts goes.
_LONGEST = {
    "to_person": 160,
    "second_person": 160,
    "from_person": 160,
    "court": 160,
    "to_place": 200,
    "confirmed_with": 200,
    "receipt": 200,
    "order": 200,
    "note": 400,
    "content_kept": 400,
}


def open_production(of: Box | Envelope) -> Production:
    """Return the production under which a container is outside, locked.

    Raises:
        Refused: it is not outside, or went before productions were recorded.
    """
    found = (
        of.productions.select_for_update(of=("self",))
        .filter(returned__isnull=True)
        .select_related("taken_out", "permission")
        .first()
    )
    if found is None:
        raise Refused(
            f"No production of {of.number} is open. Record that it came back, or take "
            "it out under its order first."
        )
    return found


def outside_only(of: Box | Envelope) -> None:
    """Raise Refused for a container that is not outside."""
    if of.whereabouts not in OUTSIDE:
        raise Refused(f"{of.number} is not out: it is {of.get_whereabouts_display()}.")


def check_texts(entered: Any, asked: Mapping[str, str]) -> dict[str, list[str]]:
    """Return what is wrong with texts, by field: missing, or too long.

    Args:
        entered: a mapping or an object with these texts.
        asked: what must be said, with the sentence that asks for it.
    """
    texts = entered if isinstance(entered, Mapping) else vars(entered)
    problems = {
        name: [f"Shorten this to {longest} characters."]
        for name, longest in _LONGEST.items()
        if len(str(texts.get(name) or "").strip()) > longest
    }
    return problems | {
        name: [sentence]
        for name, sentence in asked.items()
        if not str(texts.get(name) or "").strip()
    }


def day_moment(of: Box | Envelope, on: date, at: datetime) -> datetime:
    """Return the moment to enter for something that a paper dates by its day.

    By the end of that day it had certainly happened; of today, it has by now.

    Raises:
        Mistaken: the day has not come, or it lies before the last movement.
    """
    if on > legal_date(of.election, at):
        raise Mistaken(on="This day has not come yet.")
    zone = legal_zone(of.election)
    moment = min(at, datetime.combine(on, time(23, 59), tzinfo=zone))
    last = of.movements.order_by("-occurred_at").first()
    if last and moment < last.occurred_at:
        raise Mistaken(
            on=f"It was {last.get_act_display()} on "
            f"{last.occurred_at.astimezone(zone):%-d %B %Y}, after this day."
        )
    return moment
