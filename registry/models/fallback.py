"""Numbered paper forms for the hours when the network is down."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.history import Record, RecordHistory
from registry.models.law import Document
from registry.models.storage import StrongRoom


class FormKind(models.TextChoices):
    """What a paper form takes down."""

    INTAKE = "intake", "containers received"
    MOVES = "moves", "containers put away, moved or handed over"
    SEALS = "seals", "seals and places looked at"
    DOOR = "door", "door opened and closed"


class FallbackForm(Record):
    """One printed form; each number is accounted for, used or not."""

    class State(models.TextChoices):
        BLANK = "blank", "blank, in stock"
        IN_ENTRY = "in-entry", "entered in part"
        ENTERED = "entered", "entered in full"
        SPOILT = "spoilt", "spoilt, kept"
        RETURNED = "returned", "returned blank and struck through"
        LOST = "lost", "not accounted for"

    kind = models.CharField(max_length=6, choices=FormKind)
    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="fallback_forms"
    )
    state = models.CharField(max_length=8, choices=State, default=State.BLANK)
    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    note = models.CharField(max_length=400, blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(state__in=["spoilt", "lost"]) | ~Q(note=""),
                name="form_spoilt_or_lost_says_why",
            )
        ]


class FallbackUse(models.Model):
    """One act that was taken down on a form and entered afterwards."""

    form = models.ForeignKey(
        FallbackForm, on_delete=models.PROTECT, related_name="uses"
    )
    act = models.CharField(max_length=60)
    subject = models.CharField(max_length=16)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(occurred_at__lte=F("recorded_at")),
                name="form_is_entered_after_it_happened",
            )
        ]

    def __str__(self) -> str:
        return f"{self.act} {self.subject} from {self.form}"
