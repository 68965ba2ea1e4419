"""Containers that are out: produced to a court, or on the way to another room."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.authority import Permission
from registry.models.containers import Box, Envelope, of_one_container
from registry.models.custody import CustodyMovement
from registry.models.history import Record, RecordHistory
from registry.models.storage import StrongRoom


class Production(Record):
    """One container handed out under an order, until it is back or kept by the court.

    It stays on the register all the time; nothing disposes of it while it is out.
    """

    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="productions"
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="productions"
    )
    permission = models.ForeignKey(
        Permission, on_delete=models.PROTECT, related_name="productions"
    )
    taken_out = models.OneToOneField(
        CustodyMovement, on_delete=models.PROTECT, related_name="production"
    )
    received_by = models.CharField(max_length=160)
    received_at_place = models.CharField(max_length=200)
    receipt = models.CharField(
        max_length=200, blank=True, help_text="Number of the receipt they gave."
    )
    expected_back_on = models.DateField(null=True, blank=True)
    second_person = models.CharField(
        max_length=160,
        blank=True,
        help_text="Who was there when it went.",
    )
    # An order may be forged: somebody is asked who is not the one that brought it.
    confirmed_with = models.CharField(
        max_length=200,
        blank=True,
        help_text="Who was called back and confirmed the order, by name and post.",
    )
    confirmed_at = models.DateTimeField(null=True, blank=True)
    weight_out_kg = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True
    )
    weight_back_kg = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True
    )
    content_kept = models.CharField(
        max_length=400, blank=True, help_text="Part of the content that did not return."
    )
    returned = models.OneToOneField(
        CustodyMovement, on_delete=models.PROTECT, null=True, related_name="+"
    )
    kept_on = models.DateField(null=True, blank=True)
    kept_by = models.CharField(max_length=200, blank=True)
    kept_order = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints: ClassVar = [
            of_one_container("production_is_of_one_container"),
            models.CheckConstraint(
                condition=Q(kept_on__isnull=True)
                | (~Q(kept_by="") & ~Q(kept_order="")),
                name="what_a_court_keeps_names_court_and_order",
            ),
            models.CheckConstraint(
                condition=Q(confirmed_with="", confirmed_at__isnull=True)
                | (~Q(confirmed_with="") & Q(confirmed_at__isnull=False)),
                name="call_back_names_person_and_moment",
            ),
            models.UniqueConstraint(
                fields=["box"],
                condition=Q(returned__isnull=True),
                name="one_open_production_per_box",
            ),
            models.UniqueConstraint(
                fields=["envelope"],
                condition=Q(returned__isnull=True),
                name="one_open_production_per_envelope",
            ),
        ]


class Transfer(Record):
    """Containers on the way from one strong room to another, hand to hand."""

    from_room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="transfers_out"
    )
    to_room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="transfers_in"
    )
    order = models.CharField(
        max_length=200, help_text="By whose order; or the emergency that forced it."
    )
    emergency = models.BooleanField(default=False)
    carrier = models.CharField(
        max_length=160, help_text="Who answers for them on the way, by name and post."
    )
    vehicle_seal = models.CharField(max_length=120, blank=True)
    handed_over_at = models.DateTimeField()
    handed_over_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    recorded_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=400, blank=True)
    # In an emergency the move comes first, and the authority's word by this day.
    order_due_on = models.DateField(null=True, blank=True)
    confirmed_order = models.CharField(
        max_length=200, blank=True, help_text="The authority's word, given afterwards."
    )
    confirmed_on = models.DateField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(from_room=F("to_room")),
                name="transfer_is_between_two_rooms",
            ),
            models.CheckConstraint(
                condition=~Q(order="") & ~Q(carrier=""),
                name="transfer_names_order_and_carrier",
            ),
            models.CheckConstraint(
                condition=Q(emergency=False) | Q(order_due_on__isnull=False),
                name="emergency_transfer_has_a_day_for_the_order",
            ),
            models.CheckConstraint(
                condition=Q(
                    confirmed_order="",
                    confirmed_on__isnull=True,
                    confirmed_by__isnull=True,
                )
                | (
                    ~Q(confirmed_order="")
                    & Q(confirmed_on__isnull=False, confirmed_by__isnull=False)
                ),
                name="transfer_is_confirmed_by_somebody_with_an_order",
            ),
        ]


class TransferItem(models.Model):
    """One container of a transfer: on the way until it is taken over."""

    class Outcome(models.TextChoices):
        ON_THE_WAY = "on-the-way", "on the way"
        TAKEN_OVER = "taken-over", "taken over"
        NOT_ARRIVED = "not-arrived", "did not arrive"
        CAME_BACK = "came-back", "came back"

    transfer = models.ForeignKey(
        Transfer, on_delete=models.PROTECT, related_name="items"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="transfer_items"
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="transfer_items"
    )
    condition_sent = models.CharField(
        max_length=400, blank=True, help_text="As it was handed over, seals as read."
    )
    outcome = models.CharField(
        max_length=11, choices=Outcome, default=Outcome.ON_THE_WAY
    )
    taken_over_at = models.DateTimeField(null=True, blank=True)
    taken_over_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    condition = models.CharField(max_length=400, blank=True)

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            of_one_container("transfer_item_is_one_container"),
            models.CheckConstraint(
                condition=Q(taken_over_at__isnull=True, taken_over_by__isnull=True)
                | Q(taken_over_at__isnull=False, taken_over_by__isnull=False),
                name="taken_over_by_somebody",
            ),
            models.UniqueConstraint(
                fields=["box"],
                condition=Q(outcome="on-the-way"),
                name="one_way_at_a_time_per_box",
            ),
            models.UniqueConstraint(
                fields=["envelope"],
                condition=Q(outcome="on-the-way"),
                name="one_way_at_a_time_per_envelope",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.box or self.envelope} in {self.transfer}"
