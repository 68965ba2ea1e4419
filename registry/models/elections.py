"""Elections, their contests, polling stations, units, schedules and calendars."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.history import Record
from registry.rules.closures import ClosureKind, Effect


class RetentionSchedule(Record):
    """One version of a retention schedule, as its file said it; never edited."""

    code = models.CharField(max_length=40)
    version = models.PositiveIntegerField()
    title = models.CharField(max_length=200)
    ordained_by = models.CharField(max_length=200)
    order = models.CharField(max_length=200)
    in_force_from = models.DateField()
    file_name = models.CharField(max_length=200)
    text = models.TextField(help_text="The schedule's file, to the letter.")
    digest = models.CharField(max_length=64)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["code", "version"], name="one_schedule_per_code_and_version"
            )
        ]

    def __str__(self) -> str:
        return f"{self.title}, version {self.version}"


class CourtCalendar(Record):
    """The days on which a court's registry does not receive petitions."""

    name = models.CharField(max_length=160, unique=True)
    closed_weekdays = models.CharField(
        max_length=27,
        blank=True,
        help_text="Comma-separated, Monday is 0.",
    )


class ClosedDays(Record):
    """A span of days with one effect on filing, and the paper that says so."""

    calendar = models.ForeignKey(
        CourtCalendar, on_delete=models.PROTECT, related_name="closures"
    )
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=200)
    notification = models.CharField(max_length=200, blank=True)
    kind = models.CharField(
        max_length=10,
        choices=[(kind.value, kind.value) for kind in ClosureKind],
        default=ClosureKind.UNSAID.value,
    )
    effect = models.CharField(
        max_length=28,
        choices=[(e.value, e.value.replace("-", " ")) for e in Effect],
        default=Effect.CLOSED.value,
    )
    # An entry made in error stays, struck.
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_because = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "closed days"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="closure_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(effect=Effect.CLOSED.value) | ~Q(notification=""),
                name="opened_days_name_their_paper",
            ),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_because="")
                | (Q(struck_at__isnull=False) & ~Q(struck_because="")),
                name="closed_days_are_struck_with_a_reason",
            ),
        ]


class LimitExtension(Record):
    """A court's general order by which time limits do not run out as counted."""

    calendar = models.ForeignKey(
        CourtCalendar, on_delete=models.PROTECT, related_name="extensions"
    )
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)
    then_days = models.PositiveIntegerField(default=0)
    excludes = models.BooleanField(
        default=False, help_text="The days under the order do not count at all."
    )
    made_on = models.DateField()
    notification = models.CharField(max_length=200)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(until_on__isnull=True) | Q(until_on__gte=F("from_on")),
                name="extension_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=~Q(notification=""), name="extension_names_its_order"
            ),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_because="")
                | (Q(struck_at__isnull=False) & ~Q(struck_because="")),
                name="extension_is_struck_with_a_reason",
            ),
        ]


class Election(Record):
    """One election, pinned to one version of a retention schedule."""

    code = models.SlugField(max_length=40, unique=True)
    name = models.CharField(
        max_length=200, help_text="As it is printed on the containers."
    )
    schedule = models.ForeignKey(RetentionSchedule, on_delete=models.PROTECT)
    calendar = models.ForeignKey(CourtCalendar, on_delete=models.PROTECT)
    legal_zone = models.CharField(max_length=60, default="UTC")

    def __str__(self) -> str:
        return self.name


class ScheduleChange(Record):
    """An election's move to another version of its schedule, and what it changed.

    The counts are of the containers held at that moment. An earlier end than before
    is never adopted without saying so.
    """

    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, related_name="schedule_changes"
    )
    before = models.ForeignKey(
        RetentionSchedule, on_delete=models.PROTECT, related_name="+"
    )
    after = models.ForeignKey(
        RetentionSchedule, on_delete=models.PROTECT, related_name="+"
    )
    order = models.CharField(max_length=200)
    adopted_at = models.DateTimeField()
    later = models.PositiveIntegerField()
    earlier = models.PositiveIntegerField()
    unchanged = models.PositiveIntegerField()
    earlier_accepted_because = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(order=""), name="schedule_change_names_its_order"
            ),
            models.CheckConstraint(
                condition=Q(earlier=0) | ~Q(earlier_accepted_because=""),
                name="an_earlier_end_is_accepted_with_a_reason",
            ),
        ]


class Contest(Record):
    """One constituency in one election: what a petition challenges."""

    election = models.ForeignKey(
        Election, on_delete=models.PROTECT, related_name="contests"
    )
    constituency_number = models.CharField(max_length=20)
    constituency_name = models.CharField(max_length=160)
    returning_officer = models.CharField(max_length=160, blank=True)
    polled_on = models.DateField(null=True, blank=True)
    counted_on = models.DateField(null=True, blank=True)
    declared_on = models.DateField(null=True, blank=True)
    return_made_on = models.DateField(null=True, blank=True)
    return_received_on = models.DateField(null=True, blank=True)
    gazetted_on = models.DateField(null=True, blank=True)
    papers_received_on = models.DateField(null=True, blank=True)
    # Announced, so it may lie ahead: some terms end so long before the next poll.
    next_poll_on = models.DateField(null=True, blank=True)
    dates_source = models.CharField(
        max_length=300, blank=True, help_text="The paper that the dates come from."
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["election", "constituency_number"],
                name="one_contest_per_constituency_and_election",
            ),
            models.CheckConstraint(
                condition=Q(counted_on__isnull=True)
                | Q(polled_on__isnull=True)
                | Q(counted_on__gte=F("polled_on")),
                name="counting_does_not_precede_poll",
            ),
            models.CheckConstraint(
                condition=Q(declared_on__isnull=True)
                | Q(counted_on__isnull=True)
                | Q(declared_on__gte=F("counted_on")),
                name="declaration_does_not_precede_counting",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.constituency_number} {self.constituency_name}"


class PollingStation(Record):
    """A polling station of a contest; its number is text, ``117A`` included."""

    contest = models.ForeignKey(
        Contest, on_delete=models.PROTECT, related_name="stations"
    )
    station_number = models.CharField(max_length=20)
    name = models.CharField(max_length=200)
    place = models.CharField(max_length=200, blank=True)
    polled_on = models.DateField(
        null=True, blank=True, help_text="Only where it differs: an adjourned poll."
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["contest", "station_number"],
                name="one_station_per_number_and_contest",
            )
        ]

    def __str__(self) -> str:
        return f"{self.station_number} {self.name}"


class UnitSet(Record):
    """A control unit and a paper-trail unit used together at a station.

    A station has several where a unit was replaced. Where only one of the two was,
    the other stands in both sets, and the later set says that it was kept.
    """

    station = models.ForeignKey(
        PollingStation, on_delete=models.PROTECT, related_name="unit_sets"
    )
    election = models.ForeignKey(Election, on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveSmallIntegerField(default=1)
    control_unit_serial = models.CharField(max_length=60)
    paper_trail_serial = models.CharField(max_length=60)
    control_unit_plain = models.CharField(max_length=60, editable=False)
    paper_trail_plain = models.CharField(max_length=60, editable=False)
    control_unit_kept = models.BooleanField(default=False)
    paper_trail_kept = models.BooleanField(default=False)
    replaced = models.BooleanField(default=False)
    replacement_note = models.CharField(max_length=200, blank=True)
    # What the control unit shows, where it was read: compared with the slip count.
    votes_recorded = models.PositiveIntegerField(null=True, blank=True)
    votes_source = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["station", "sequence"], name="one_unit_set_per_sequence"
            ),
            models.UniqueConstraint(
                fields=["election", "paper_trail_plain"],
                condition=Q(paper_trail_kept=False),
                name="a_paper_trail_unit_serves_once_per_election",
            ),
            models.UniqueConstraint(
                fields=["election", "control_unit_plain"],
                condition=Q(control_unit_kept=False),
                name="a_control_unit_serves_once_per_election",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.control_unit_serial} with {self.paper_trail_serial}"
