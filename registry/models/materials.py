"""Envelopes, boxes and seals issued for a contest, and what became of each."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from registry.models.elections import Contest
from registry.models.history import Record
from registry.rules.arrivals import SealKind


class MaterialKind(models.TextChoices):
    """What is issued for sealing."""

    ENVELOPE = "envelope", "envelopes"
    BOX = "box", "boxes"
    PAPER_SEAL = SealKind.PAPER.value, "numbered paper seals"
    STRAP_SEAL = SealKind.STRAP.value, "numbered straps or cable seals"


class MaterialIssue(Record):
    """A lot of material issued for one contest: numbered seals, or so many pieces."""

    contest = models.ForeignKey(
        Contest, on_delete=models.PROTECT, related_name="material_issues"
    )
    kind = models.CharField(max_length=8, choices=MaterialKind)
    maker = models.CharField(max_length=80, blank=True)
    maker_plain = models.CharField(max_length=80, blank=True, editable=False)
    first_serial = models.CharField(max_length=60, blank=True)
    last_serial = models.CharField(max_length=60, blank=True)
    count = models.PositiveIntegerField()
    issued_on = models.DateField()
    issued_to = models.CharField(max_length=160)
    receipt = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(count__gte=1), name="material_issue_is_of_something"
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=[SealKind.PAPER.value, SealKind.STRAP.value])
                | (~Q(first_serial="") & ~Q(last_serial="")),
                name="issued_seals_are_numbered",
            ),
        ]


class MaterialEnd(Record):
    """What became of material that was not used: spoilt and kept, returned, lost."""

    class Fate(models.TextChoices):
        SPOILT = "spoilt", "spoilt, kept"
        RETURNED = "returned", "returned unused"
        LOST = "lost", "lost"

    issue = models.ForeignKey(
        MaterialIssue, on_delete=models.PROTECT, related_name="ends"
    )
    fate = models.CharField(max_length=8, choices=Fate)
    first_serial = models.CharField(max_length=60, blank=True)
    last_serial = models.CharField(max_length=60, blank=True)
    count = models.PositiveIntegerField()
    occurred_on = models.DateField()
    kept_in = models.CharField(
        max_length=200, blank=True, help_text="Where spoilt pieces are kept."
    )
    note = models.CharField(max_length=400, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(count__gte=1), name="material_end_is_of_something"
            ),
            models.CheckConstraint(
                condition=~Q(fate="spoilt") | ~Q(kept_in=""),
                name="spoilt_material_is_kept_somewhere",
            ),
            models.CheckConstraint(
                condition=~Q(fate="lost") | ~Q(note=""),
                name="lost_material_says_how",
            ),
            models.CheckConstraint(
                condition=Q(first_serial="", last_serial="")
                | (~Q(first_serial="") & ~Q(last_serial="")),
                name="material_end_names_both_serials_or_none",
            ),
        ]
