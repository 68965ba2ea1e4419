"""The two clocks of a question: the day asked about, and what was known when.

Any answer may be asked for any past or future day, with the facts as they are known
now or as the register knew them at a moment gone by.
"""

from datetime import date, datetime, tzinfo

from django.utils.dateparse import parse_date, parse_datetime

from registry.models import Election
from registry.queries.keeping import legal_date
from registry.usecases._door import note_access


def settle(
    election: Election | None,
    as_of: date | None,
    known_at: datetime | None,
    at: datetime,
) -> tuple[date, datetime | None]:
    """Return the day and the moment that a question asks about, and note them.

    Args:
        as_of: None for the day of ``known_at``, or for today.
        known_at: None for what is known now; a moment that has not come yet stands
            for now, since nothing is known of it.
    """
    known_at = known_at if known_at and known_at < at else None
    day = as_of or legal_date(election, known_at or at)
    given = {"as_of": as_of, "known_at": known_at}
    note_access(**{name: one.isoformat() for name, one in given.items() if one})
    return day, known_at


def moment_named(text: str, zone: tzinfo, now: datetime) -> datetime:
    """Return the moment that is written: a bare day means its end.

    Args:
        text: ``2026-11-02`` or ``2026-11-02T10:30``, with its own offset or not.
        zone: in which a moment without an offset is meant.
        now: today's end has not come yet, so today means this.

    Raises:
        ValueError: it is neither.
    """
    day = parse_date(text)
    moment = parse_datetime(f"{text}T23:59:59.999999" if day else text)
    if moment is None:
        raise ValueError(f"{text!r} is no moment.")
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone)
    is_today = day is not None and day == now.astimezone(zone).date()
    return min(moment, now) if is_today else moment
