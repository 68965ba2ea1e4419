"""The door log of a strong room: each time it was opened, by which two key holders."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.authority import Permission
from registry.models.history import Record, RecordHistory
from registry.models.keys import KeyHolding
from registry.models.storage import StrongRoom
from registry.rules.doors import SEALS_SAID, SealsCompared


class DoorPurpose(models.TextChoices):
    """Why a strong room's door is opened (common practice, no published source)."""

    INTAKE = "intake", "intake"
    ROUND = "round", "inspection round"
    STOCK = "stock", "stock-taking"
    PRODUCTION = "production", "production to a court or return from it"
    VIEWING = "viewing", "viewing that an authority or a court permitted"
    OPENING = "opening", "opening or disposal under permission"
    TRANSFER = "transfer", "transfer to or from another room"
    HAND_OVER = "hand-over", "hand-over of charge"
    REPAIR = "repair", "repair or cleaning"
    EMERGENCY = "emergency", "emergency"


class Waste(models.TextChoices):
    """What became of the waste in the room when the door was closed."""

    NONE = "none", "no waste left the room"
    LOOKED = "looked", "looked through by two people before it left"
    UNLOOKED = "unlooked", "left without being looked through"


class DoorSession(Record):
    """The door of a strong room, from its opening to its closing."""

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="door_sessions"
    )
    purpose = models.CharField(max_length=10, choices=DoorPurpose)
    note = models.CharField(max_length=400, blank=True)
    first_key = models.ForeignKey(
        KeyHolding, on_delete=models.PROTECT, related_name="+"
    )
    # Empty where one holder alone opened: it is recorded as it was, and stands out.
    second_key = models.ForeignKey(
        KeyHolding, on_delete=models.PROTECT, null=True, related_name="+"
    )
    second_confirmed_at = models.DateTimeField(null=True, blank=True)
    second_confirmed_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    permission = models.ForeignKey(
        Permission, on_delete=models.PROTECT, null=True, related_name="door_sessions"
    )
    opened_at = models.DateTimeField()
    opened_recorded_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    seals_found = models.CharField(max_length=400, blank=True)
    seals_found_state = models.CharField(
        max_length=400, blank=True, help_text="How they looked, in words."
    )
    seals_compared = models.CharField(
        max_length=12,
        choices=[(one.value, SEALS_SAID[one]) for one in SealsCompared],
        default=SealsCompared.NOT_RECORDED.value,
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_recorded_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    seals_put_on = models.CharField(max_length=400, blank=True)
    camera_reference = models.CharField(max_length=200, blank=True)
    waste = models.CharField(max_length=8, choices=Waste, blank=True)
    done = models.CharField(
        max_length=400, blank=True, help_text="What was done while it was open."
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["room"],
                condition=Q(closed_at__isnull=True),
                name="one_open_door_session_per_room",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_by__isnull=True)
                | Q(closed_at__gte=F("opened_at"), closed_by__isnull=False),
                name="door_is_closed_after_it_was_opened",
            ),
            models.CheckConstraint(
                condition=Q(opened_at__lte=F("opened_recorded_at")),
                name="door_is_recorded_after_it_was_opened",
            ),
            models.CheckConstraint(
                condition=Q(second_key__isnull=True) | ~Q(second_key=F("first_key")),
                name="door_is_opened_with_two_different_keys",
            ),
            models.CheckConstraint(
                condition=Q(
                    second_confirmed_at__isnull=True, second_confirmed_by__isnull=True
                )
                | Q(
                    second_confirmed_at__gte=F("opened_at"),
                    second_confirmed_by__isnull=False,
                    second_key__isnull=False,
                ),
                name="second_holder_confirms_what_was_opened",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | (~Q(done="") & ~Q(waste="")),
                name="closed_door_says_what_was_done",
            ),
        ]


class DoorPresence(models.Model):
    """A person who was in the room while its door was open."""

    session = models.ForeignKey(
        DoorSession, on_delete=models.PROTECT, related_name="presences"
    )
    name = models.CharField(max_length=160)
    post = models.CharField(max_length=160, blank=True)
    came_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)
    escort = models.CharField(
        max_length=160, blank=True, help_text="Who stays beside a contractor."
    )

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(left_at__isnull=True) | Q(left_at__gte=F("came_at")),
                name="visitor_leaves_after_coming",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} in {self.session}"
