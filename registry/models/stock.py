"""Stock-taking by sample, and the hand-over of charge of a room."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.containers import (
    CONTENT_CHOICES,
    Box,
    Envelope,
    of_one_container,
)
from registry.models.elections import Contest, Election
from registry.models.history import Record, RecordHistory
from registry.models.law import Document
from registry.models.storage import StrongRoom


class StockTake(Record):
    """A check by sight of a sample, drawn so that anybody can repeat the draw.

    The list is frozen with its digest before the seed is known; the seed comes from a
    public source announced beforehand. A full count draws nothing and needs no seed.
    """

    class State(models.TextChoices):
        FROZEN = "frozen", "list frozen, waiting for the seed"
        DRAWN = "drawn", "drawn, being checked"
        CONCLUDED = "concluded", "concluded"
        ABANDONED = "abandoned", "abandoned"

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, null=True, related_name="stock_takes"
    )
    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, null=True, related_name="+"
    )
    contest = models.ForeignKey(
        Contest, on_delete=models.PROTECT, null=True, related_name="+"
    )
    kind = models.CharField(max_length=20, choices=CONTENT_CHOICES, blank=True)
    noun = models.CharField(
        max_length=8, choices=[("box", "boxes"), ("envelope", "envelopes")]
    )
    whole = models.BooleanField(
        default=False, help_text="Everything is looked at; nothing is drawn."
    )
    state = models.CharField(max_length=9, choices=State, default=State.FROZEN)
    purpose = models.CharField(max_length=200)
    # What is to be found: so many lost of the population, with this probability.
    population = models.PositiveIntegerField()
    lost_supposed = models.PositiveIntegerField()
    probability = models.DecimalField(max_digits=6, decimal_places=5)
    sample_size = models.PositiveIntegerField()
    list_document = models.ForeignKey(
        Document, on_delete=models.PROTECT, related_name="+"
    )
    list_digest = models.CharField(max_length=64)
    seed_announced = models.CharField(
        max_length=400, blank=True, help_text="Which public numbers will be the seed."
    )
    seed_on = models.DateField(
        null=True, blank=True, help_text="The day on which they become known."
    )
    frozen_on = models.DateField(help_text="The local day of the freezing.")
    frozen_at = models.DateTimeField()
    frozen_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    seed = models.CharField(max_length=400, blank=True)
    drawn_at = models.DateTimeField(null=True, blank=True)
    drawn_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    conclusion = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(sample_size__lte=F("population"))
                & Q(lost_supposed__lte=F("population"))
                & Q(lost_supposed__gte=1),
                name="stock_take_is_of_its_population",
            ),
            models.CheckConstraint(
                condition=Q(probability__gt=0) & Q(probability__lte=1),
                name="stock_take_probability_is_one",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["drawn", "concluded"])
                | ~Q(seed="")
                | Q(whole=True),
                name="what_is_drawn_has_its_seed",
            ),
            models.CheckConstraint(
                condition=Q(whole=True, seed="", sample_size=F("population"))
                | (Q(whole=False, seed_on__gt=F("frozen_on")) & ~Q(seed_announced="")),
                name="seed_is_known_after_the_list_is_frozen",
            ),
        ]


class StockTakeItem(models.Model):
    """One container of the sample, in the order in which it was drawn."""

    stock_take = models.ForeignKey(
        StockTake, on_delete=models.PROTECT, related_name="items"
    )
    position = models.PositiveIntegerField(help_text="In the draw, from 1.")
    line = models.PositiveIntegerField(help_text="In the frozen list, from 1.")
    box = models.ForeignKey(Box, on_delete=models.PROTECT, null=True, related_name="+")
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="+"
    )

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["stock_take", "position"], name="one_item_per_position_drawn"
            ),
            models.UniqueConstraint(
                fields=["stock_take", "line"], name="one_item_per_line_drawn"
            ),
            of_one_container("stock_take_item_is_one_container"),
        ]

    def __str__(self) -> str:
        return f"{self.box or self.envelope} in {self.stock_take}"


class ChargeHandOver(Record):
    """The charge of a room passes from one custodian to another.

    Until the incoming one signs, the outgoing one answers for the whole stock.
    """

    class State(models.TextChoices):
        STATED = "stated", "stock stated, being checked"
        SIGNED_OUT = "signed-out", "signed by the one who hands over"
        DONE = "done", "signed by both"
        GIVEN_UP = "given-up", "given up"

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="hand_overs"
    )
    outgoing = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    incoming = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=10, choices=State, default=State.STATED)
    order = models.CharField(
        max_length=200, help_text="The order of transfer of the officer."
    )
    # Where the outgoing officer cannot be there, somebody takes the stock instead.
    outgoing_absent = models.CharField(max_length=400, blank=True)
    charge_ends = models.BooleanField(
        default=True, help_text="The outgoing officer's charge of the room ends."
    )
    stated_at = models.DateTimeField()
    stated_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    containers = models.PositiveIntegerField()
    list_document = models.ForeignKey(
        Document, on_delete=models.PROTECT, related_name="+"
    )
    list_digest = models.CharField(max_length=64)
    differences = models.TextField(blank=True)
    signed_out_at = models.DateTimeField(null=True, blank=True)
    signed_out_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    signed_in_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=400, blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(outgoing=F("incoming")),
                name="charge_passes_between_two_people",
            ),
            models.UniqueConstraint(
                fields=["room", "outgoing"],
                condition=Q(state__in=["stated", "signed-out"]),
                name="one_open_hand_over_per_room_and_custodian",
            ),
            models.CheckConstraint(
                condition=~Q(state="done")
                | Q(signed_out_at__isnull=False, signed_in_at__isnull=False),
                name="hand_over_is_done_when_both_signed",
            ),
        ]
