"""Which day it is at a desk, where no single election says so."""

from datetime import date, datetime

from registry.queries.keeping import legal_date
from registry.queries.scope import elections_of
from registry.rules.powers import Actor


def day_at_desk(actor: Actor, at: datetime) -> date:
    """Return the day it is for this actor: that of the first election's law."""
    return legal_date(elections_of(actor).order_by("id").first(), at)
