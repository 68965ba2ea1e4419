"""The sealing table: what was answered, step by step, while a station was sealed."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from registry.models.custody import Intake
from registry.models.elections import PollingStation, UnitSet
from registry.models.history import Record, RecordHistory


class StationSealing(Record):
    """One polling station at the sealing table, from its tag to its sealed envelopes.

    Several people may work at it; their answers stand side by side, so that nothing
    is lost when the power fails and each is told of the other.
    """

    class State(models.TextChoices):
        OPEN = "open", "being sealed"
        DONE = "done", "sealed"
        LEFT = "left", "left off"

    station = models.ForeignKey(
        PollingStation, on_delete=models.PROTECT, related_name="sealings"
    )
    intake = models.ForeignKey(
        Intake, on_delete=models.PROTECT, null=True, related_name="sealings"
    )
    room = models.ForeignKey(
        "registry.StrongRoom", on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=4, choices=State, default=State.OPEN)
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    left_because = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["station"],
                condition=Q(state="open"),
                name="one_open_sealing_per_station",
            ),
            models.CheckConstraint(
                condition=Q(state="open", ended_at__isnull=True)
                | (~Q(state="open") & Q(ended_at__isnull=False)),
                name="sealing_that_ended_says_when",
            ),
            models.CheckConstraint(
                condition=~Q(state="left") | ~Q(left_because=""),
                name="sealing_left_off_says_why",
            ),
        ]


class SealingAnswer(models.Model):
    """One answer at the sealing table; a later one to the same question counts.

    ``unit_set`` is empty where the question is about the station or its box.
    """

    sealing = models.ForeignKey(
        StationSealing, on_delete=models.PROTECT, related_name="answers"
    )
    unit_set = models.ForeignKey(
        UnitSet, on_delete=models.PROTECT, null=True, related_name="+"
    )
    question = models.CharField(max_length=60)
    answer = models.CharField(max_length=400, blank=True)
    answered_at = models.DateTimeField()
    answered_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    history = RecordHistory()

    def __str__(self) -> str:
        return f"{self.sealing} {self.question}: {self.answer}"
