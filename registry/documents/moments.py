"""How a moment is written on paper: with its time zone, since paper travels."""

from datetime import datetime

from registry.rules.wording import shown


def written_moment(at: datetime) -> str:
    """Write a moment as "5 March 2026, 14:05 (UTC+05:30)", in its own time zone.

    Raises ValueError for a moment without a time zone.
    """
    offset = at.strftime("%z")
    if not offset:
        raise ValueError(f"The moment {at.isoformat()} has no time zone.")
    zone = f"{offset[:3]}:{offset[3:5]}" if offset.strip("+-0") else ""
    return f"{shown(at.date())}, {at:%H:%M} (UTC{zone})"
