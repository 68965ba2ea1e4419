"""Cases, orders to preserve, confirmations of the court's registry, documents."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.elections import Contest, Election, PollingStation
from registry.models.history import Record, RecordHistory
from registry.rules.case_events import CaseEventKind, CourtLevel


class Document(Record):
    """A scanned paper, kept with its digest."""

    title = models.CharField(max_length=200)
    file = models.FileField(upload_to="documents/%Y/")
    media_type = models.CharField(max_length=60)
    size = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)


class CaseKind(models.TextChoices):
    """What kind of proceeding a case is; any of them can hold."""

    PETITION = "election-petition", "election petition"
    WRIT = "writ", "writ or public-interest petition"
    CRIMINAL = "criminal", "criminal case"
    OTHER = "other", "other proceeding"


class Case(Record):
    """A proceeding that keeps containers, from the day it was heard of."""

    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, related_name="cases"
    )
    kind = models.CharField(max_length=20, choices=CaseKind)
    forum = models.CharField(max_length=160)
    court_number = models.CharField(
        max_length=80, blank=True, help_text="The court's number; empty until known."
    )
    parties = models.CharField(max_length=400)
    whole_election = models.BooleanField(default=False)
    note = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["forum", "court_number"],
                condition=~Q(court_number=""),
                name="one_case_per_forum_and_number",
            )
        ]

    def __str__(self) -> str:
        return self.court_number or f"{self.get_kind_display()} {self.number}"


class CaseScope(models.Model):
    """A contest that a case covers, whole or narrowed to stations.

    Narrowing lets material go, so it needs a reason and the authority for it.
    """

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="scopes")
    contest = models.ForeignKey(Contest, on_delete=models.PROTECT, related_name="+")
    station = models.ForeignKey(
        PollingStation, on_delete=models.PROTECT, null=True, related_name="+"
    )
    narrowed_because = models.CharField(max_length=400, blank=True)
    narrowed_by_authority = models.CharField(max_length=200, blank=True)
    # A scope is replaced, not deleted, when a case is narrowed or widened.
    ended = models.BooleanField(default=False)

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(station__isnull=True)
                | (~Q(narrowed_because="") & ~Q(narrowed_by_authority="")),
                name="narrowing_has_reason_and_authority",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.case} covers {self.station or self.contest}"


class CaseLink(Record):
    """How one case hangs together with another; neither settles the other."""

    class Kind(models.TextChoices):
        CONSOLIDATED = "consolidated-with", "heard together with"
        CROSS = "cross-petition-to", "cross-petition to"
        SPLIT = "split-from", "split from"
        REFILED = "filed-anew-after", "filed anew after the return of"
        APPEAL = "appeal-from", "appeal from"

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="links")
    other = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="linked_by")
    kind = models.CharField(max_length=20, choices=Kind)
    occurred_on = models.DateField()
    paper = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["case", "other", "kind"], name="one_link_of_a_kind"
            ),
            models.CheckConstraint(
                condition=~Q(case=F("other")), name="a_case_is_not_linked_to_itself"
            ),
        ]


class CaseEvent(Record):
    """Something that happened in a case; corrected by a further event only."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(
        max_length=32,
        choices=[(k.value, k.value.replace("-", " ")) for k in CaseEventKind],
    )
    level = models.CharField(
        max_length=8, choices=[(level.value, level.value) for level in CourtLevel]
    )
    occurred_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    paper = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=400, blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )
    strikes = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        related_name="struck_by",
        help_text="The event that this one declares to have been entered in error.",
    )


class PreservationOrder(Record):
    """An order to keep, with or without an end."""

    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, related_name="preservation_orders"
    )
    case = models.ForeignKey(
        Case, on_delete=models.PROTECT, null=True, related_name="orders"
    )
    issued_by = models.CharField(max_length=200)
    order_ref = models.CharField(max_length=120)
    dated = models.DateField()
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)
    whole_election = models.BooleanField(default=False)
    lifted_on = models.DateField(null=True, blank=True)
    lifted_by_order = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    note = models.CharField(max_length=400, blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["issued_by", "order_ref"], name="one_order_per_issuer_and_ref"
            ),
            models.CheckConstraint(
                condition=Q(until_on__isnull=True) | Q(until_on__gte=F("from_on")),
                name="order_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(lifted_on__isnull=True, lifted_by_order="")
                | (Q(lifted_on__isnull=False) & ~Q(lifted_by_order="")),
                name="order_is_lifted_by_an_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order_ref} of {self.issued_by}"


class OrderScope(models.Model):
    """A contest, or one station of it, that a preservation order covers."""

    order = models.ForeignKey(
        PreservationOrder, on_delete=models.PROTECT, related_name="scopes"
    )
    contest = models.ForeignKey(Contest, on_delete=models.PROTECT, related_name="+")
    station = models.ForeignKey(
        PollingStation, on_delete=models.PROTECT, null=True, related_name="+"
    )

    history = RecordHistory()

    def __str__(self) -> str:
        return f"{self.order} covers {self.station or self.contest}"


class NoPetitionConfirmation(Record):
    """The court registry's paper that no petition is pending against a contest."""

    contest = models.ForeignKey(
        Contest, on_delete=models.PROTECT, related_name="confirmations"
    )
    registry_of = models.CharField(max_length=160)
    reference = models.CharField(max_length=120)
    dated = models.DateField()
    covers_through = models.DateField(
        help_text="The last day of filing that the confirmation speaks of."
    )
    recorded_at = models.DateTimeField()
    withdrawn_on = models.DateField(null=True, blank=True)
    document = models.ForeignKey(
        Document, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["contest", "registry_of", "reference"],
                name="one_confirmation_per_reference",
            ),
            models.CheckConstraint(
                condition=Q(covers_through__lte=F("dated")),
                name="confirmation_speaks_of_days_gone_by",
            ),
        ]
