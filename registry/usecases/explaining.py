"""Why a container is kept: the whole reasoning, for any day, as known at any moment."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from django.db.models import Q

from registry.models import Box, DisposalItem, Envelope
from registry.queries.as_known import row_known
from registry.queries.keeping import Keeper, legal_date
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.rules.retention import Retention
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases.boxes import container_of


@dataclass(frozen=True)
class Explanation:
    """A retention with what it was asked about.

    Attributes:
        known_at: whose knowledge counts; None for what is known now.
        state: how the container stood then, in words.
    """

    number: str
    noun: str
    content: str
    contest: str
    state: str
    as_of: date
    known_at: datetime | None
    schedule: str
    retention: Retention | None


class When(StrEnum):
    """A moment in a container's life whose knowledge may be asked for by its name."""

    PERMITTED = "permitted"
    DISPOSED = "disposed"


@usecase("container.explain", power=Power.LOOK, subject="container")
def explain(
    *,
    container: str,
    as_of: date | None = None,
    known_at: datetime | None = None,
    when: When | None = None,
    actor: Actor,
    at: datetime,
) -> Explanation:
    """Answer until when a container is kept, and why, step by step.

    Args:
        as_of: the day asked about; the day of ``known_at``, or today, if left out.
        known_at: answer with what the register knew at that moment.
        when: instead of ``known_at``: when its disposal was permitted (the latest
            countersignature of an order to destroy it), or carried out.

    Raises:
        Refused: the container was not yet in the register at that moment, or the
            moment has not come yet, or its disposal was never permitted or done.
    """
    now = container_of(actor, container)
    known_at = _moment(now, when) if when else known_at
    if known_at and known_at > at:
        raise Refused("That moment has not come yet; nothing is known of it.")
    of = row_known(now, known_at)
    if of is None:
        raise Refused(f"{now.number} was not yet in the register at that moment.")
    day = as_of or legal_date(of.election, known_at or at)
    keeper = Keeper(day, known_at)
    note_access(now.number, as_of=day.isoformat(), known_at=str(known_at or ""))
    schedule = keeper.schedule(of.election) if of.election else None
    return Explanation(
        number=of.number,
        noun="box" if isinstance(of, Box) else "envelope",
        content=of.get_kind_display(),
        contest=str(of.contest or "not known"),
        state=of.get_state_display(),
        as_of=day,
        known_at=known_at,
        schedule=f"{schedule.title}, version {schedule.version}" if schedule else "",
        retention=keeper.container(of),
    )


def _moment(of: Box | Envelope, when: When) -> datetime:
    """Return when the disposal of a container was permitted, or carried out."""
    done = DisposalItem.objects.filter(
        Q(box=of) if isinstance(of, Box) else Q(envelope=of)
    )
    item = done.select_related("batch__permission").first()
    if when is When.DISPOSED:
        if item is None:
            raise Refused(f"{of.number} has not been disposed of.")
        return item.batch.occurred_at
    signed = item.batch.permission.countersigned_at if item else None
    if signed is None:
        signed = (
            of.permission_items.filter(
                permission__act=Act.DESTROY.value,
                permission__countersigned_at__isnull=False,
            )
            .values_list("permission__countersigned_at", flat=True)
            .order_by("-permission__countersigned_at")
            .first()
        )
    if signed is None:
        raise Refused(f"No disposal of {of.number} has been permitted.")
    return signed
