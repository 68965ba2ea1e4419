"""Incidents: what went wrong in a room, what it touches, and the follow-up."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.containers import Box, Envelope, of_one_container
from registry.models.history import Record, RecordHistory
from registry.models.law import Document
from registry.models.storage import StrongRoom


class IncidentKind(models.TextChoices):
    """What went wrong."""

    SEAL = "seal", "seal broken or changed"
    MISSING = "missing", "container missing"
    STRANGE = "strange", "container found that nobody registered"
    KEY = "key", "key lost or copied"
    DOOR = "door", "door found open or forced"
    WATER = "water", "water"
    FIRE = "fire", "fire or smoke"
    PESTS = "pests", "pests"
    MOULD = "mould", "mould"
    CLIMATE = "climate", "climate out of limits"
    OTHER = "other", "other"


class Incident(Record):
    """Something went wrong; what it touches is held until it is closed."""

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="incidents"
    )
    kind = models.CharField(max_length=8, choices=IncidentKind)
    what = models.TextField(help_text="What was found, where, in which state.")
    whole_room = models.BooleanField(
        default=False, help_text="Every container of the room is touched."
    )
    occurred_at = models.DateTimeField(
        null=True, blank=True, help_text="Where it is known."
    )
    noticed_at = models.DateTimeField()
    noticed_by = models.CharField(max_length=160)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    owner = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    due_on = models.DateField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    closed_because = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(what="") & ~Q(noticed_by=""),
                name="incident_says_what_and_who_noticed",
            ),
            models.CheckConstraint(
                condition=Q(noticed_at__lte=F("recorded_at")),
                name="incident_is_recorded_after_it_was_noticed",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_because="")
                | (Q(closed_at__isnull=False) & ~Q(closed_because="")),
                name="incident_is_closed_with_a_reason",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["room"],
                condition=Q(closed_at__isnull=True),
                name="open_incidents",
            )
        ]


class IncidentItem(models.Model):
    """One container that an incident touches; held from that moment."""

    incident = models.ForeignKey(
        Incident, on_delete=models.PROTECT, related_name="items"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="incident_items"
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="incident_items"
    )
    condition = models.CharField(max_length=400, blank=True)

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            of_one_container("incident_item_is_one_container"),
            models.UniqueConstraint(
                fields=["incident", "box"], name="incident_names_a_box_once"
            ),
            models.UniqueConstraint(
                fields=["incident", "envelope"], name="incident_names_an_envelope_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.box or self.envelope} in {self.incident}"


class IncidentStep(models.Model):
    """One step of the follow-up; never changed afterwards."""

    class Act(models.TextChoices):
        REPORTED = "reported", "reported to the authority"
        DIRECTED = "directed", "direction received"
        DONE = "done", "measure taken"
        NOTED = "noted", "noted"
        CLOSED = "closed", "closed"

    incident = models.ForeignKey(
        Incident, on_delete=models.PROTECT, related_name="steps"
    )
    act = models.CharField(max_length=8, choices=Act)
    text = models.CharField(max_length=400)
    reference = models.CharField(max_length=200, blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )
    occurred_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    history = RecordHistory()

    def __str__(self) -> str:
        return f"{self.incident} {self.act}"
