"""Which day it is at a desk, where no single election says so."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.queries.keeping import legal_date, legal_zone
from registry.queries.scope import elections_of
from registry.rules.powers import Actor


def day_at_desk(actor: Actor, at: datetime) -> date:
    """Return the day it is for this actor: that of the first election's law."""
    return legal_date(elections_of(actor).order_by("id").first(), at)


def zone_at_desk(actor: Actor) -> ZoneInfo:
    """Return the zone in which that day begins and ends; UTC before any election."""
    return legal_zone(elections_of(actor).order_by("id").first())
