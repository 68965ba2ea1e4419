"""Permissions, openings, disposals and certificates."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.containers import Box, Envelope, of_one_container
from registry.models.elections import Election
from registry.models.history import Record, RecordHistory
from registry.models.law import Document
from registry.models.storage import StrongRoom
from registry.rules.disposal_facts import ACT_TITLES, Act


class Permission(Record):
    """An order of the higher authority, in force once a second person countersigns."""

    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, related_name="permissions"
    )
    authority = models.CharField(max_length=200)
    order_ref = models.CharField(max_length=120)
    dated = models.DateField()
    valid_from = models.DateField()
    valid_until = models.DateField()
    act = models.CharField(
        max_length=16, choices=[(act.value, title) for act, title in ACT_TITLES.items()]
    )
    while_still_kept = models.BooleanField(
        default=False,
        help_text="The order expressly allows the act while the material is kept.",
    )
    instead_of_confirmation = models.BooleanField(
        default=False,
        help_text="The order expressly stands in for the registry's confirmation.",
    )
    conditions = models.TextField(blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    list_digest = models.CharField(max_length=64, blank=True)
    countersigned_at = models.DateTimeField(null=True, blank=True)
    countersigned_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    revoked_because = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["authority", "order_ref"],
                name="one_permission_per_authority_and_ref",
            ),
            models.CheckConstraint(
                condition=Q(valid_until__gte=F("valid_from")),
                name="permission_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=~Q(act=Act.DESTROY.value) | Q(while_still_kept=False),
                name="nothing_is_destroyed_while_still_kept",
            ),
            models.CheckConstraint(
                condition=Q(
                    countersigned_at__isnull=True, countersigned_by__isnull=True
                )
                | (
                    Q(countersigned_at__isnull=False, countersigned_by__isnull=False)
                    & ~Q(countersigned_by=F("recorded_by"))
                    & ~Q(list_digest="")
                ),
                name="countersigned_by_another_person",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_because="")
                | (Q(revoked_at__isnull=False) & ~Q(revoked_because="")),
                name="revoked_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order_ref} of {self.authority}"


class PermissionItem(models.Model):
    """One container or room that a permission covers; frozen when countersigned."""

    permission = models.ForeignKey(
        Permission, on_delete=models.PROTECT, related_name="items"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="permission_items"
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="permission_items"
    )
    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, null=True, related_name="+"
    )

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(box__isnull=False, envelope__isnull=True, room__isnull=True)
                | Q(box__isnull=True, envelope__isnull=False, room__isnull=True)
                | Q(box__isnull=True, envelope__isnull=True, room__isnull=False),
                name="permission_item_names_one_thing",
            ),
            models.UniqueConstraint(
                fields=["permission", "box"], name="permission_names_a_box_once"
            ),
            models.UniqueConstraint(
                fields=["permission", "envelope"],
                name="permission_names_an_envelope_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.permission} covers {self.thing}"

    @property
    def thing(self) -> Record:
        """The box, envelope or room that this item names."""
        return self.box or self.envelope or self.room  # type: ignore[return-value]


class Opening(Record):
    """A room entered, or a box or envelope opened, under a permission."""

    permission = models.ForeignKey(
        Permission, on_delete=models.PROTECT, related_name="openings"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="openings"
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="openings"
    )
    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, null=True, related_name="openings"
    )
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    present = models.CharField(max_length=400)
    done = models.CharField(max_length=400)
    found = models.CharField(
        max_length=400, blank=True, help_text="What was found that should not be there."
    )
    fragments_kept_in = models.CharField(
        max_length=200, blank=True, help_text="Where what is left of the old seal lies."
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(box__isnull=False, envelope__isnull=True, room__isnull=True)
                | Q(box__isnull=True, envelope__isnull=False, room__isnull=True)
                | Q(box__isnull=True, envelope__isnull=True, room__isnull=False),
                name="opening_is_of_one_thing",
            ),
            models.CheckConstraint(
                condition=~Q(present="") & ~Q(done=""),
                name="opening_says_who_and_what",
            ),
        ]


class DisposalBatch(Record):
    """Containers disposed of together: method, place and two witnesses."""

    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, related_name="disposals"
    )
    permission = models.ForeignKey(
        Permission, on_delete=models.PROTECT, related_name="disposals"
    )
    method = models.CharField(max_length=160)
    particle_level = models.CharField(max_length=4)
    place = models.CharField(max_length=200)
    first_witness = models.CharField(max_length=160)
    second_witness = models.CharField(max_length=160)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    disposed_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    remarks = models.CharField(max_length=400, blank=True)

    class Meta:
        verbose_name_plural = "disposal batches"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(method="")
                & ~Q(first_witness="")
                & ~Q(second_witness="")
                & ~Q(first_witness=F("second_witness")),
                name="disposal_has_a_method_and_two_witnesses",
            )
        ]


class DisposalItem(models.Model):
    """One container in a disposal, with the reasoning that stood at that instant."""

    batch = models.ForeignKey(
        DisposalBatch, on_delete=models.PROTECT, related_name="items"
    )
    box = models.OneToOneField(
        Box, on_delete=models.PROTECT, null=True, related_name="disposal_item"
    )
    envelope = models.OneToOneField(
        Envelope, on_delete=models.PROTECT, null=True, related_name="disposal_item"
    )
    reasoning = models.JSONField()

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [of_one_container("disposal_item_names_one_container")]

    def __str__(self) -> str:
        return f"{self.box or self.envelope} in {self.batch}"


class Certificate(Record):
    """The certificate of a disposal, as it was printed."""

    batch = models.OneToOneField(
        DisposalBatch, on_delete=models.PROTECT, related_name="certificate"
    )
    issued_at = models.DateTimeField()
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")
