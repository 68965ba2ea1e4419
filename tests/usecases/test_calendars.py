"""Court calendars over records: late entries move what they touch, and say so."""

from datetime import UTC, date, datetime, timedelta

import pytest

from registry.models import Box, ClosedDays, Contest, CourtCalendar, LimitExtension
from registry.queries.keeping import Keeper
from registry.rules.powers import PowerMissing
from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, Refused, setting_up
from registry.usecases.calendars import (
    DaysEntered,
    EntryStruck,
    ExtensionEnded,
    LimitsExtended,
    WeekdaysSet,
    change_calendar,
    look_at_entry,
    preview_calendar_change,
)
from tests import given

pytestmark = pytest.mark.django_db

# The forty-fifth day after the declaration is a Sunday, the window ends on the Monday.
LAST_DAY = given.DECLARED + timedelta(days=46)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.administrator, "at": given.NOW}


@pytest.fixture
def calendar(scene) -> str:
    return CourtCalendar.objects.get().number


def held(of: Contest, on: date, known_at: datetime | None = None):
    return Keeper(on, known_at).contest(of, ContentKind.POLL_SLIPS)


def window_of(retention) -> date | None:
    (window,) = [h for h in retention.holds if h.governed_by == "petition-window"]
    return window.through


def india(act, declared_on: date, name: str) -> tuple[str, Contest]:
    """A contest under the reference schedule written from the Indian Act."""
    path = given.SCHEDULE_FILE.with_name("reference-india-1.toml")
    schedule = setting_up.adopt_schedule(
        text=path.read_text(), file_name=path.name, **act
    )
    calendar = setting_up.set_up_calendar(name=name, closed_weekdays=[6], **act)
    election = setting_up.set_up_election(
        code=name.lower().replace(" ", "-"),
        name=name,
        schedule=schedule,
        calendar=calendar,
        **act,
    )
    contest = setting_up.set_up_contest(
        election=election,
        constituency_number="1",
        constituency_name="One",
        days=setting_up.ContestDays(declared_on=declared_on),
        source="Form 21C",
        **act,
    )
    return calendar, Contest.objects.select_related(
        "election__schedule", "election__calendar"
    ).get(number=contest)


def test_lachhman_das_arora_a_vacation_with_a_bench_for_petitions(act):
    """Declared 10 May 1996; vacation 1 to 30 June, open for election petitions.

    Lachhman Das Arora v Ganeshi Lal, SC 1 September 1999: the forty-fifth day,
    24 June 1996, counted, and a petition of 1 July was late (desks.md B.2). Failure
    modes 4 and 5: without the notification the later day is the safe one.
    """
    calendar, contest = india(act, date(1996, 5, 10), "Registry A")
    asked = date(1996, 7, 10)
    assert window_of(held(contest, asked)) == date(1996, 6, 24)
    vacation = DaysEntered(
        date(1996, 6, 1), date(1996, 6, 30), "summer vacation", "Calendar", "vacation"
    )
    change_calendar(calendar=calendar, change=vacation, **act)
    assert window_of(held(contest, asked)) == date(1996, 7, 1)
    opened = DaysEntered(
        date(1996, 6, 1),
        date(1996, 6, 30),
        "vacation bench takes election petitions",
        "Notification of the court",
        "vacation",
        "open-for-election-petitions",
    )
    change_calendar(calendar=calendar, change=opened, earlier_accepted=True, **act)
    assert window_of(held(contest, asked)) == date(1996, 6, 24)


def test_hari_shanker_tripathi_a_closed_court_runs_on_to_its_reopening(act):
    """Declared 30 April 1974, closed 25 May to 7 July; 8 July 1974 was in time.

    Hari Shanker Tripathi v Shiv Harsh, SC 3 February 1976 (desks.md B.2).
    """
    calendar, contest = india(act, date(1974, 4, 30), "Registry B")
    closed = DaysEntered(
        date(1974, 5, 25), date(1974, 7, 7), "holidays", "Calendar", "holiday"
    )
    change_calendar(calendar=calendar, change=closed, **act)
    assert window_of(held(contest, date(1974, 8, 1))) == date(1974, 7, 8)


EXTENDED = LimitsExtended(
    from_on=date(2020, 3, 15),
    made_on=date(2021, 4, 27),
    notification="general order of 27 April 2021",
)


def test_a_limit_extended_without_an_end_keeps_until_it_is_ended(act):
    """Failure mode 6: several declared in 2020-21, no end until further order.

    The order of 27 April 2021 is named in desks.md B.2. That ninety days were given
    after its end is an assumption of this test (from memory: the order of 10 January
    2022 gave 90 days from 1 March 2022).
    """
    calendar, contest = india(act, date(2020, 11, 10), "Registry C")
    asked = date(2021, 12, 1)
    assert held(contest, asked).may_be_disposed_from == date(2021, 11, 11)
    done = change_calendar(calendar=calendar, change=EXTENDED, **act)
    assert window_of(held(contest, asked)) is None
    assert held(contest, asked).may_be_disposed_from is None
    ended = ExtensionEnded(
        done.number, date(2022, 2, 28), 90, "order of 10 January 2022"
    )
    with pytest.raises(Mistaken, match="earlier than before"):
        change_calendar(calendar=calendar, change=ended, **act)
    assert held(contest, asked).may_be_disposed_from is None
    change_calendar(calendar=calendar, change=ended, earlier_accepted=True, **act)
    after = held(contest, date(2022, 12, 1))
    assert window_of(after) == date(2022, 2, 28) + timedelta(days=90)


def test_an_extension_bears_from_the_day_of_its_order(act):
    """Before the order was made, the window was what it was."""
    calendar, contest = india(act, date(2020, 11, 10), "Registry D")
    change_calendar(calendar=calendar, change=EXTENDED, **act)
    assert window_of(held(contest, date(2021, 4, 26))) == date(2020, 12, 25)
    assert window_of(held(contest, date(2021, 4, 27))) is None


def test_a_day_closed_late_says_what_it_moved(scene, act, calendar):
    given.a_shelved_box(scene)
    storm = DaysEntered(LAST_DAY, LAST_DAY, "storm", "HB/N/3", "event")
    would = preview_calendar_change(calendar=calendar, change=storm, **act)
    assert not ClosedDays.objects.exists()
    done = change_calendar(calendar=calendar, change=storm, **act)
    assert done.effects == would
    ends = {
        (row.contest[:2], end.title, end.before, end.after)
        for row in would.moved
        for end in row.moved
    }
    after = LAST_DAY + timedelta(days=1)
    title = "Window for election petitions"
    assert ends == {
        ("11", title, LAST_DAY, after),
        ("12", title, LAST_DAY, after),
    }
    # The least time of keeping governs all the same: no end of keeping moves.
    assert (would.later, would.earlier) == (0, 0)
    assert would.unchanged == Box.objects.count() + 1  # with the envelope inside


def test_containers_are_counted_once_each_however_cases_name_stations(
    scene, act, calendar
):
    """A case against one station makes its box fare otherwise than the others."""
    first = given.a_shelved_box(scene)
    given.a_shelved_box_of_station_two(scene)
    given.a_case(
        scene, covers=given.cases.Covers(
            stations=("11/001",), because="petition", authority="High Bench"
        )
    )  # fmt: skip
    storm = DaysEntered(LAST_DAY, LAST_DAY, "storm", "HB/N/3", "event")
    would = preview_calendar_change(calendar=calendar, change=storm, **act)
    counts = {
        (row.before is None, row.containers)
        for row in would.rows
        if row.contest.startswith("11") and row.containers
    }
    assert counts == {(True, 2), (False, 2)}
    assert first.envelopes.count() == 1


def test_a_struck_entry_counts_for_nothing_and_stays(scene, act, calendar):
    contest = Contest.objects.get(number=scene.contests["11"])
    storm = DaysEntered(LAST_DAY, LAST_DAY, "storm", "HB/N/3", "event")
    entry = change_calendar(calendar=calendar, change=storm, **act).number
    later = given.NOW + timedelta(hours=1)
    struck = {"change": EntryStruck(entry, "of another registry"), "calendar": calendar}
    change_calendar(**struck, actor=act["actor"], at=later)
    record = ClosedDays.objects.get()
    assert (record.struck_at, record.struck_because) == (later, "of another registry")
    on = given.TODAY
    assert window_of(held(contest, on)) == LAST_DAY
    assert window_of(held(contest, on, given.NOW)) == LAST_DAY + timedelta(days=1)
    with pytest.raises(Refused, match="struck already"):
        change_calendar(**struck, actor=act["actor"], at=later)
    file = look_at_entry(calendar=calendar, entry=entry, actor=act["actor"], at=later)
    (row, *_) = file.effects.moved
    assert row.moved[0].before == LAST_DAY + timedelta(days=1)
    assert row.moved[0].after == LAST_DAY


def test_what_was_not_yet_entered_was_not_known(scene, act, calendar):
    """Two clocks: the storm was then, the register learnt of it now."""
    contest = Contest.objects.get(number=scene.contests["11"])
    storm = DaysEntered(LAST_DAY, LAST_DAY, "storm", "HB/N/3", "event")
    entered = given.NOW + timedelta(days=1)
    change_calendar(calendar=calendar, change=storm, actor=act["actor"], at=entered)
    assert window_of(held(contest, given.TODAY, given.NOW)) == LAST_DAY
    after = LAST_DAY + timedelta(days=1)
    assert window_of(held(contest, given.TODAY, entered)) == after


def test_other_weekdays_hold_from_their_entry_on(scene, act, calendar):
    contest = Contest.objects.get(number=scene.contests["11"])
    entered = given.NOW + timedelta(days=1)
    change = WeekdaysSet([0, 5, 6], "HB/Rules/9")
    change_calendar(calendar=calendar, change=change, actor=act["actor"], at=entered)
    assert window_of(held(contest, given.TODAY)) == LAST_DAY + timedelta(days=1)
    assert window_of(held(contest, given.TODAY, given.NOW)) == LAST_DAY


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (DaysEntered(LAST_DAY, LAST_DAY - timedelta(days=1), "x"), "last_day"),
        (DaysEntered(LAST_DAY, LAST_DAY + timedelta(days=400), "x"), "last_day"),
        (DaysEntered(LAST_DAY, LAST_DAY, " "), "reason"),
        (DaysEntered(LAST_DAY, LAST_DAY, "x", kind="feast"), "kind"),
        (DaysEntered(LAST_DAY, LAST_DAY, "x", effect="half-open"), "effect"),
        (DaysEntered(LAST_DAY, LAST_DAY, "x", effect="open"), "notification"),
        (DaysEntered(LAST_DAY, LAST_DAY, "x" * 201), "reason"),
        (LimitsExtended(LAST_DAY, LAST_DAY, ""), "notification"),
        (
            LimitsExtended(LAST_DAY, LAST_DAY, "x", LAST_DAY - timedelta(days=1)),
            "until_on",
        ),
        (LimitsExtended(LAST_DAY, LAST_DAY, "x", then_days=-1), "then_days"),
        (LimitsExtended(LAST_DAY, date(2062, 1, 1), "x"), "made_on"),
        (WeekdaysSet(range(7), "x"), "closed_weekdays"),
        (WeekdaysSet([6], ""), "because"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field(act, calendar, change, field):
    with pytest.raises(Mistaken) as mistaken:
        change_calendar(calendar=calendar, change=change, **act)
    assert set(mistaken.value.errors) == {field}
    assert not ClosedDays.objects.exists()
    assert not LimitExtension.objects.exists()


def test_an_extension_is_ended_once(act, calendar):
    entered = LimitsExtended(LAST_DAY, LAST_DAY, "HB/4", until_on=LAST_DAY)
    number = change_calendar(calendar=calendar, change=entered, **act).number
    again = ExtensionEnded(number, LAST_DAY, 0, "HB/5")
    with pytest.raises(Refused, match=r"ends on .* already"):
        change_calendar(calendar=calendar, change=again, **act)


@pytest.mark.parametrize(
    "role", ["custodian", "legal", "authority", "countersigner", "auditor"]
)
def test_only_the_administrator_changes_a_calendar(scene, calendar, role):
    who = {"actor": getattr(scene.cast, role), "at": given.NOW}
    storm = DaysEntered(LAST_DAY, LAST_DAY, "storm", "HB/N/3", "event")
    for act in (change_calendar, preview_calendar_change):
        with pytest.raises(PowerMissing):
            act(calendar=calendar, change=storm, **who)


def test_what_is_counted_lies_within_the_looker_s_scope(scene, act, calendar):
    given.a_shelved_box(scene)
    storm = DaysEntered(LAST_DAY, LAST_DAY, "storm", "HB/N/3", "event")
    entry = change_calendar(calendar=calendar, change=storm, **act).number
    stranger = given.appointed(
        scene.cast.administrator,
        "cy.keeper",
        given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )

    def counted(actor) -> int:
        file = look_at_entry(
            calendar=calendar, entry=entry, actor=actor, at=datetime.now(UTC)
        )
        return sum(row.containers for row in file.effects.rows)

    assert counted(scene.cast.custodian) == 2
    assert counted(stranger) == 0
    assert counted(scene.cast.administrator) == 2


@pytest.mark.parametrize(
    ("declared_on", "kept_through"),
    [
        # Failure mode 34, month ends over records: one year from 29 February is kept
        # through 28 February; the corresponding date, or the month's last (dateutil's
        # relativedelta, which clips the same way).
        (date(2024, 2, 29), date(2025, 2, 28)),
        (date(2023, 2, 28), date(2024, 2, 28)),
        (date(2024, 12, 31), date(2025, 12, 31)),
    ],
)
def test_a_year_from_the_end_of_february(act, declared_on, kept_through):
    """A time of keeping does not roll, whatever the calendar closes."""
    calendar, contest = india(act, declared_on, f"Registry of {declared_on}")
    closed = DaysEntered(kept_through, kept_through, "holiday", "N 1", "holiday")
    change_calendar(calendar=calendar, change=closed, **act)
    answer = held(contest, kept_through)
    assert answer.retain_through == kept_through
    assert answer.may_be_disposed_from == kept_through + timedelta(days=1)


def test_a_declaration_that_is_corrected_counts_every_window_anew(scene, act):
    """Failure mode 7, with a calendar: the corrected window meets the closed day."""
    calendar = CourtCalendar.objects.get().number
    vacation = DaysEntered(
        LAST_DAY + timedelta(days=1),
        LAST_DAY + timedelta(days=9),
        "autumn vacation",
        "HB/N/7",
        "vacation",
    )
    change_calendar(calendar=calendar, change=vacation, **act)
    contest = Contest.objects.get(number=scene.contests["11"])
    assert window_of(held(contest, given.TODAY)) == LAST_DAY
    days = setting_up.ContestDays(
        given.POLLED, given.COUNTED, given.DECLARED + timedelta(days=2)
    )
    later = given.NOW + timedelta(hours=1)
    setting_up.record_contest_dates(
        contest=contest.number,
        days=days,
        source="Corrected declaration",
        actor=act["actor"],
        at=later,
    )
    contest.refresh_from_db()
    assert window_of(held(contest, given.TODAY)) == LAST_DAY + timedelta(days=10)
    assert window_of(held(contest, given.TODAY, given.NOW)) == LAST_DAY
