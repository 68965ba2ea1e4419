"""Envelopes, boxes, their seals, and what was found wrong with them."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from registry.models.elections import Contest, Election, PollingStation, UnitSet
from registry.models.history import Record, RecordHistory, RecordQuerySet
from registry.models.storage import Shelf, StrongRoom
from registry.rules.arrivals import DiscrepancyKind, SealKind
from registry.rules.markings import Marking
from registry.rules.schedules import ContentKind

CONTENT_TITLES = {
    ContentKind.POLL_SLIPS: "Poll slips",
    ContentKind.MOCK_POLL_SLIPS: "Mock-poll slips",
    ContentKind.STATUTORY_PACKET: "Statutory packet",
}
CONTENT_CHOICES = [(kind.value, title) for kind, title in CONTENT_TITLES.items()]


class ContainerState(models.TextChoices):
    """Where a container stands in its life."""

    HELD = "held", "held"
    QUARANTINED = "quarantined", "in quarantine"
    SUPERSEDED = "superseded", "opened and superseded"
    DISPOSED = "disposed", "disposed of"


class Whereabouts(models.TextChoices):
    """Where a container is, as the register knows it."""

    INTAKE = "intake", "at the intake table"
    SHELVED = "shelved", "on its shelf"
    IN_BOX = "in-box", "in its box"
    OUT = "out", "taken out under an order"
    MISSING = "missing", "not found"
    GONE = "gone", "disposed of"


class MarkedContainer(Record):
    """What envelopes and boxes share: content, markings as written, state."""

    kind = models.CharField(max_length=20, choices=CONTENT_CHOICES)
    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, null=True, related_name="+"
    )
    contest = models.ForeignKey(
        Contest, on_delete=models.PROTECT, null=True, related_name="%(class)s_set"
    )
    room = models.ForeignKey(StrongRoom, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(
        max_length=12, choices=ContainerState, default=ContainerState.HELD
    )
    whereabouts = models.CharField(
        max_length=8, choices=Whereabouts, default=Whereabouts.INTAKE
    )
    # The five dates are kept apart: poll, counting and declaration are the contest's.
    sealed_on = models.DateField(null=True, blank=True)
    received_on = models.DateField()
    description = models.CharField(max_length=200, blank=True)
    remarks = models.CharField(max_length=400, blank=True)
    intake = models.ForeignKey(
        "registry.Intake", on_delete=models.PROTECT, null=True, related_name="+"
    )
    supersedes = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        related_name="superseded_by",
    )

    written_election = models.CharField(max_length=200, blank=True)
    written_constituency_number = models.CharField(max_length=40, blank=True)
    written_constituency_name = models.CharField(max_length=160, blank=True)
    written_station_number = models.CharField(max_length=400, blank=True)
    written_station_name = models.CharField(max_length=200, blank=True)
    written_control_unit = models.CharField(max_length=80, blank=True)
    written_paper_trail_unit = models.CharField(max_length=80, blank=True)
    written_poll_date = models.CharField(max_length=40, blank=True)
    written_counting_date = models.CharField(max_length=40, blank=True)
    unreadable = models.CharField(
        max_length=200,
        blank=True,
        help_text="Comma-separated markings that are there but cannot be read.",
    )

    class Meta:
        abstract = True

    @property
    def written(self) -> dict[Marking, str]:
        """The markings, as they are written on the container."""
        return {
            marking: getattr(self, written_field(marking))
            for marking in Marking
            if getattr(self, written_field(marking))
        }

    @property
    def unreadable_markings(self) -> frozenset[Marking]:
        """The markings that are there but cannot be read."""
        return frozenset(Marking(m) for m in self.unreadable.split(",") if m)


def written_field(marking: Marking) -> str:
    """Return the name of the column that keeps this marking as written."""
    return "written_" + marking.value.replace("-", "_")


def _known_kind(name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(kind__in=[kind.value for kind in ContentKind]), name=name
    )


def _gone_together(name: str) -> models.CheckConstraint:
    """A container is disposed of exactly when it is gone."""
    disposed = Q(state=ContainerState.DISPOSED)
    gone = Q(whereabouts=Whereabouts.GONE)
    return models.CheckConstraint(
        condition=(disposed & gone) | (~disposed & ~gone), name=name
    )


class Box(MarkedContainer):
    """A box: one election, one constituency, one class of content."""

    label = models.CharField(
        max_length=40, blank=True, help_text="The box's own label, such as 3 of 12."
    )
    shelf = models.ForeignKey(
        Shelf, on_delete=models.PROTECT, null=True, related_name="boxes"
    )
    closed_on = models.DateField(null=True, blank=True)
    gross_weight_kg = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True
    )

    class Meta:
        verbose_name_plural = "boxes"
        constraints: ClassVar = [
            _known_kind("box_kind_is_known"),
            _gone_together("box_disposed_is_gone"),
            models.CheckConstraint(
                condition=Q(state=ContainerState.QUARANTINED)
                | Q(contest__isnull=False, election__isnull=False),
                name="box_outside_quarantine_has_a_contest",
            ),
            models.CheckConstraint(
                condition=~Q(whereabouts=Whereabouts.SHELVED) | Q(shelf__isnull=False),
                name="shelved_box_has_a_shelf",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["contest", "kind", "state"], name="box_by_contest"),
            models.Index(fields=["room", "state"], name="box_by_room"),
        ]


class Envelope(MarkedContainer):
    """A sealed envelope of one unit set's slips, or another statutory packet.

    The serial columns hold what the envelope stands for, in comparable form; what
    is written on it stays in the ``written_…`` columns for good.
    """

    station = models.ForeignKey(
        PollingStation, on_delete=models.PROTECT, null=True, related_name="envelopes"
    )
    unit_set = models.ForeignKey(
        UnitSet, on_delete=models.PROTECT, null=True, related_name="envelopes"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="envelopes"
    )
    control_unit = models.CharField(max_length=60, blank=True)
    paper_trail_unit = models.CharField(max_length=60, blank=True)
    control_unit_kept = models.BooleanField(default=False)
    paper_trail_kept = models.BooleanField(default=False)
    slip_count = models.PositiveIntegerField(null=True, blank=True)
    self_test_count = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            _known_kind("envelope_kind_is_known"),
            _gone_together("envelope_disposed_is_gone"),
            models.CheckConstraint(
                condition=Q(state=ContainerState.QUARANTINED)
                | Q(
                    contest__isnull=False,
                    election__isnull=False,
                    station__isnull=False,
                ),
                name="envelope_outside_quarantine_has_a_station",
            ),
            models.CheckConstraint(
                condition=Q(state=ContainerState.QUARANTINED)
                | Q(kind=ContentKind.STATUTORY_PACKET.value)
                | Q(unit_set__isnull=False),
                name="slips_outside_quarantine_have_a_unit_set",
            ),
            models.CheckConstraint(
                condition=~Q(whereabouts=Whereabouts.IN_BOX) | Q(box__isnull=False),
                name="boxed_envelope_has_a_box",
            ),
            models.UniqueConstraint(
                fields=["unit_set", "kind"],
                condition=Q(state=ContainerState.HELD)
                & ~Q(kind=ContentKind.STATUTORY_PACKET.value),
                name="one_live_envelope_per_unit_set_and_kind",
            ),
            models.UniqueConstraint(
                fields=["election", "kind", "control_unit"],
                condition=Q(state=ContainerState.HELD, control_unit_kept=False)
                & ~Q(control_unit=""),
                name="one_live_envelope_per_control_unit_and_kind",
            ),
            models.UniqueConstraint(
                fields=["election", "kind", "paper_trail_unit"],
                condition=Q(state=ContainerState.HELD, paper_trail_kept=False)
                & ~Q(paper_trail_unit=""),
                name="one_live_envelope_per_paper_trail_unit_and_kind",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["contest", "kind", "state"], name="envelope_by_contest"
            ),
            models.Index(fields=["control_unit"], name="envelope_by_control_unit"),
            models.Index(fields=["paper_trail_unit"], name="envelope_by_paper_trail"),
        ]


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

    objects = SealQuerySet.as_manager()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(envelope__isnull=False, box__isnull=True)
                | Q(envelope__isnull=True, box__isnull=False),
                name="seal_is_on_one_container",
            ),
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


DISCREPANCY_TITLES = {
    DiscrepancyKind.MARKING_MISSING: "marking missing",
    DiscrepancyKind.MARKING_UNREADABLE: "marking unreadable",
    DiscrepancyKind.MARKING_DIFFERS: "marking differs",
    DiscrepancyKind.UNEXPECTED: "nobody expected it",
    DiscrepancyKind.DUPLICATE_SERIAL: "serial already on another envelope",
    DiscrepancyKind.DUPLICATE_SEAL: "seal number already on another container",
    DiscrepancyKind.SEAL_MISSING: "seal missing",
    DiscrepancyKind.SEAL_UNSIGNED: "paper seal not signed",
    DiscrepancyKind.SEAL_BROKEN: "seal broken or not as recorded",
    DiscrepancyKind.NOT_FOUND: "container not found",
    DiscrepancyKind.OTHER: "other",
}


class Discrepancy(Record):
    """Something that is not as it must be; open until resolved with a reason."""

    kind = models.CharField(
        max_length=20,
        choices=[(k.value, title) for k, title in DISCREPANCY_TITLES.items()],
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="discrepancies"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="discrepancies"
    )
    marking = models.CharField(max_length=20, blank=True)
    written = models.CharField(max_length=400, blank=True)
    expected = models.CharField(max_length=400, blank=True)
    detail = models.CharField(max_length=400, blank=True)
    opened_at = models.DateTimeField()
    resolved_at = models.DateTimeField(null=True, blank=True)
    resolved_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    resolution = models.CharField(max_length=400, blank=True)

    class Meta:
        verbose_name_plural = "discrepancies"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(envelope__isnull=False, box__isnull=True)
                | Q(envelope__isnull=True, box__isnull=False),
                name="discrepancy_is_of_one_container",
            ),
            models.CheckConstraint(
                condition=Q(resolved_at__isnull=True, resolution="")
                | (Q(resolved_at__isnull=False) & ~Q(resolution="")),
                name="discrepancy_is_resolved_with_a_reason",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["opened_at"],
                condition=Q(resolved_at__isnull=True),
                name="open_discrepancies",
            )
        ]


class Intake(Record):
    """One wave of arrivals: who brought it, who took it, and from which file."""

    room = models.ForeignKey(StrongRoom, on_delete=models.PROTECT, related_name="+")
    received_on = models.DateField()
    delivered_by = models.CharField(max_length=160, blank=True)
    received_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    file_name = models.CharField(max_length=200, blank=True)
    file_digest = models.CharField(max_length=64, blank=True)
    containers = models.PositiveIntegerField(default=0)


class CustodyMovement(Record):
    """One change of place or of charge; never changed afterwards."""

    class Act(models.TextChoices):
        RECEIVED = "received", "received"
        BOXED = "boxed", "put into a box"
        SHELVED = "shelved", "shelved"
        MOVED = "moved", "moved"
        HANDED_OVER = "handed-over", "handed over"
        TAKEN_OUT = "taken-out", "taken out"
        RETURNED = "returned", "returned"
        NOT_FOUND = "not-found", "not found"
        FOUND = "found", "found"
        DISPOSED = "disposed", "disposed of"

    act = models.CharField(max_length=12, choices=Act)
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="movements"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="movements"
    )
    from_place = models.CharField(max_length=200, blank=True)
    to_place = models.CharField(max_length=200, blank=True)
    from_person = models.CharField(max_length=160, blank=True)
    to_person = models.CharField(max_length=160, blank=True)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    permission = models.ForeignKey(
        "registry.Permission",
        on_delete=models.PROTECT,
        null=True,
        related_name="movements",
    )
    note = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(envelope__isnull=False, box__isnull=True)
                | Q(envelope__isnull=True, box__isnull=False),
                name="movement_is_of_one_container",
            ),
            models.CheckConstraint(
                condition=Q(occurred_at__lte=models.F("recorded_at")),
                name="movement_is_recorded_after_it_happened",
            ),
        ]
