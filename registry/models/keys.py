"""Locks of strong rooms, their keys, and who holds each."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.history import Record
from registry.models.storage import StrongRoom


class Lock(Record):
    """A lock on a strong room's door; a room of the trade has two."""

    room = models.ForeignKey(StrongRoom, on_delete=models.PROTECT, related_name="locks")
    name = models.CharField(max_length=60, help_text="Such as upper lock.")
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    removed_because = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["room", "name"],
                condition=Q(removed_on__isnull=True),
                name="one_fitted_lock_per_room_and_name",
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True, removed_because="")
                | (Q(removed_on__gte=F("fitted_on")) & ~Q(removed_because="")),
                name="lock_is_removed_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} of {self.room}"


class KeyState(models.TextChoices):
    """Where a key stands in its life."""

    IN_USE = "in-use", "in use"
    DEPOSITED = "deposited", "deposited, sealed"
    LOST = "lost", "lost"
    DESTROYED = "destroyed", "destroyed"
    WITHDRAWN = "withdrawn", "withdrawn with its lock"


class Key(Record):
    """One key of a lock, or a duplicate of it."""

    lock = models.ForeignKey(Lock, on_delete=models.PROTECT, related_name="keys")
    mark = models.CharField(max_length=40, help_text="As stamped on it or its tag.")
    duplicate = models.BooleanField(default=False)
    state = models.CharField(max_length=9, choices=KeyState, default=KeyState.IN_USE)
    place = models.CharField(
        max_length=200, blank=True, help_text="Where a deposited key lies."
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["lock", "mark"], name="one_key_per_lock_and_mark"
            )
        ]

    def __str__(self) -> str:
        return f"key {self.mark} of the {self.lock}"


class KeyHolding(Record):
    """A person, by appointment, holds a key from a moment until another.

    The holder need not have a log-in: the second key is often with another office.
    """

    key = models.ForeignKey(Key, on_delete=models.PROTECT, related_name="holdings")
    person = models.ForeignKey(
        "registry.User",
        on_delete=models.PROTECT,
        null=True,
        related_name="key_holdings",
    )
    holder = models.CharField(max_length=160)
    # As compared, so that nobody holds both keys under two writings of a name.
    holder_plain = models.CharField(max_length=160, editable=False)
    appointment = models.CharField(max_length=200)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=400, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["key"],
                condition=Q(until__isnull=True),
                name="one_holder_per_key",
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True, ended_because="")
                | (Q(until__gte=F("since")) & ~Q(ended_because="")),
                name="key_holding_ends_with_a_reason",
            ),
            models.CheckConstraint(
                condition=~Q(holder="") & ~Q(appointment=""),
                name="key_is_held_by_appointment",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.holder} holds {self.key}"
