"""Seals as things of their own, with a life and its events."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from registry.models.containers import Box, Envelope, of_one_container
from registry.models.history import Record, RecordHistory, RecordQuerySet
from registry.rules.arrivals import SealKind

SEAL_TITLES = {
    SealKind.WAX: "wax seal",
    SealKind.PAPER: "numbered paper seal",
    SealKind.STRAP: "numbered strap or cable seal",
}


class SealState(models.TextChoices):
    """Where a seal stands in its life."""

    APPLIED = "applied", "applied"
    BROKEN = "broken", "broken"
    SUPERSEDED = "superseded", "superseded"


class SealQuerySet(RecordQuerySet):
    """Seals, by where they stand in their life."""

    def not_superseded(self) -> Self:
        """Those that a container relies on now, whole or found broken."""
        return self.exclude(state=SealState.SUPERSEDED).filter(
            superseded_by__isnull=True
        )


class Seal(Record):
    """A seal on one container: its number or die, who signed it, how it fares."""

    kind = models.CharField(
        max_length=8, choices=[(k.value, title) for k, title in SEAL_TITLES.items()]
    )
    maker = models.CharField(
        max_length=80, blank=True, help_text="Maker, or the office that owns the die."
    )
    serial = models.CharField(
        max_length=60, blank=True, help_text="As printed; empty for a plain wax seal."
    )
    serial_plain = models.CharField(max_length=60, blank=True, editable=False)
    maker_plain = models.CharField(max_length=80, blank=True, editable=False)
    signed = models.BooleanField(null=True)
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="seals"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="seals"
    )
    state = models.CharField(
        max_length=10, choices=SealState, default=SealState.APPLIED
    )
    # Kept in step with the container by the use cases, so that the constraint below
    # can leave out what stands in quarantine.
    quarantined = models.BooleanField(default=False)
    supersedes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, related_name="superseded_by"
    )

    objects: ClassVar = SealQuerySet.as_manager()

    class Meta:
        constraints: ClassVar = [
            of_one_container("seal_is_on_one_container"),
            models.CheckConstraint(
                condition=Q(kind=SealKind.WAX.value) | ~Q(serial=""),
                name="numbered_seal_has_its_number",
            ),
            models.UniqueConstraint(
                fields=["maker_plain", "kind", "serial_plain"],
                condition=Q(state=SealState.APPLIED, quarantined=False)
                & ~Q(serial_plain=""),
                name="one_live_seal_per_maker_kind_and_number",
            ),
        ]


class SealAct(models.TextChoices):
    """What was done to a seal, or seen of it."""

    APPLIED = "applied", "applied"
    CHECKED = "checked", "checked"
    BROKEN = "broken", "broken under permission"
    FOUND_BROKEN = "found-broken", "found broken"
    SUPERSEDED = "superseded", "superseded"


class SealFinding(models.TextChoices):
    """What a check of a seal found, in the trade's words."""

    MATCHES = "intact-matches", "intact, number matches"
    DIFFERS = "intact-differs", "intact, number differs"
    ILLEGIBLE = "intact-illegible", "intact, number illegible"
    DAMAGED = "damaged", "damaged, not open"
    OPEN = "open", "open or broken"
    ABSENT = "absent", "absent"


class SealEvent(models.Model):
    """One moment in a seal's life; never changed afterwards."""

    seal = models.ForeignKey(Seal, on_delete=models.PROTECT, related_name="events")
    act = models.CharField(max_length=14, choices=SealAct)
    finding = models.CharField(max_length=18, choices=SealFinding, blank=True)
    number_read = models.CharField(
        max_length=60, blank=True, help_text="What the inspector read, before any hint."
    )
    occurred_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True
    )
    witness = models.CharField(max_length=160, blank=True)
    note = models.CharField(max_length=400, blank=True)

    history = RecordHistory()

    def __str__(self) -> str:
        return f"{self.seal} {self.act} on {self.occurred_on}"
