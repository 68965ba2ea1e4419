"""Envelopes and boxes: what is written on them and what they stand for."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from registry.models.elections import Contest, Election, PollingStation, UnitSet
from registry.models.history import Record
from registry.models.storage import Shelf, StrongRoom
from registry.rules.markings import Marking
from registry.rules.schedules import ContentKind

CONTENT_TITLES = {
    ContentKind.POLL_SLIPS: "Poll slips",
    ContentKind.MOCK_POLL_SLIPS: "Mock-poll slips",
    ContentKind.STATUTORY_PACKET: "Statutory packet",
}
CONTENT_CHOICES = [(kind.value, title) for kind, title in CONTENT_TITLES.items()]


# What a row that concerns a box or an envelope must name: exactly one of them.
ONE_CONTAINER = Q(envelope__isnull=False, box__isnull=True) | Q(
    envelope__isnull=True, box__isnull=False
)


def of_one_container(name: str) -> models.CheckConstraint:
    """Return the constraint that a row names one box or one envelope."""
    return models.CheckConstraint(condition=ONE_CONTAINER, name=name)


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
    KEPT = "kept", "in the custody of a court"
    ON_WAY = "on-way", "on the way to another room"
    REPLACED = "replaced", "with the one that superseded it"
    MISSING = "missing", "not found"
    GONE = "gone", "disposed of"


class Paper(models.TextChoices):
    """What slips are printed on: thermal prints fade, plain ones last."""

    UNKNOWN = "", "not known"
    THERMAL = "thermal", "thermal paper"
    PLAIN = "plain", "plain paper, ink or toner"


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


def _replaced_together(name: str) -> models.CheckConstraint:
    """A container is superseded exactly when its place is with its successor."""
    superseded = Q(state=ContainerState.SUPERSEDED)
    replaced = Q(whereabouts=Whereabouts.REPLACED)
    return models.CheckConstraint(
        condition=(superseded & replaced) | (~superseded & ~replaced), name=name
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
            _replaced_together("box_superseded_is_replaced"),
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
    # Printed but still hanging uncut when the unit was opened: not counted.
    uncut_count = models.PositiveIntegerField(null=True, blank=True)
    paper = models.CharField(
        max_length=8, choices=Paper, default=Paper.UNKNOWN, blank=True
    )

    class Meta:
        constraints: ClassVar = [
            _known_kind("envelope_kind_is_known"),
            _gone_together("envelope_disposed_is_gone"),
            _replaced_together("envelope_superseded_is_replaced"),
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
