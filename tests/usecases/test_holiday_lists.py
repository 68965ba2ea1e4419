"""Lists of holidays as offices send them: iCalendar (RFC 5545), CSV; all or nothing."""

from datetime import date, timedelta

import pytest

from registry.models import ClosedDays, CourtCalendar
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.holiday_lists import (
    Defaults,
    HolidayFile,
    check_holidays,
    import_holidays,
)
from tests import given

pytestmark = pytest.mark.django_db

WINDOW_ENDS = given.DECLARED + timedelta(days=46)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.administrator, "at": given.NOW}


def feed(*events: str, **defaults) -> HolidayFile:
    """An iCalendar file; lines end as RFC 5545, 3.1 says."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//calvenna//EN"]
    for number, event in enumerate(events, start=1):
        uid = [] if "UID:" in event else [f"UID:{number}@calvenna"]
        lines += ["BEGIN:VEVENT", *uid, *event.splitlines(), "END:VEVENT"]
    text = "\r\n".join([*lines, "END:VCALENDAR", ""])
    return HolidayFile(text.encode(), "holidays.ics", Defaults("HB/G/1", **defaults))


def table(text: str, name: str = "holidays.csv") -> HolidayFile:
    return HolidayFile(text.encode(), name, Defaults("HB/G/1"))


def checked(file: HolidayFile, act):
    return check_holidays(calendar="Registry of the High Bench", source=file, **act)


def spans(file: HolidayFile, act) -> list[tuple[str, str]]:
    read = checked(file, act)
    assert not read.refused
    return [(f"{e.first_day}", f"{e.last_day}") for e in read.entries]


@pytest.mark.parametrize(
    ("event", "first", "last", "clause"),
    [
        # RFC 5545, 3.6.1: DTEND is the non-inclusive end of the event.
        ("DTSTART;VALUE=DATE:20260624\nDTEND;VALUE=DATE:20260627",
         "2026-06-24", "2026-06-26", "3.6.1"),
        # RFC 5545, 3.6.1: a DATE with neither end nor duration takes one day.
        ("DTSTART;VALUE=DATE:20260624", "2026-06-24", "2026-06-24", "3.6.1"),
        # RFC 5545, 3.3.6: a duration of days, of weeks.
        ("DTSTART;VALUE=DATE:20260624\nDURATION:P2D",
         "2026-06-24", "2026-06-25", "3.3.6"),
        ("DTSTART;VALUE=DATE:20260624\nDURATION:P1W",
         "2026-06-24", "2026-06-30", "3.3.6"),
        # common practice, no published source: a single day that ends on itself.
        ("DTSTART;VALUE=DATE:20260624\nDTEND;VALUE=DATE:20260624",
         "2026-06-24", "2026-06-24", "practice"),
    ],
)  # fmt: skip
def test_how_long_an_entry_of_a_feed_lasts(act, event, first, last, clause):
    assert spans(feed(f"{event}\nSUMMARY:Fair"), act) == [(first, last)], clause


def test_a_folded_title_is_read_whole(act):
    """RFC 5545, 3.1: a line break and one blank fold a long line."""
    read = checked(
        feed("DTSTART;VALUE=DATE:20260624\nSUMMARY:Midsummer\n  Lantern Fair"), act
    )
    assert read.entries[0].reason == "Midsummer Lantern Fair"


YEARLY = "DTSTART;VALUE=DATE:20240501\nSUMMARY:May day\nRRULE:FREQ=YEARLY"


def test_what_repeats_is_followed_through_the_day_that_is_said(act):
    """RFC 5545, 3.3.10 (RRULE) and 3.8.5.1 (EXDATE)."""
    through = {"through": date(2027, 12, 31)}
    assert [day for day, _ in spans(feed(YEARLY, **through), act)] == [
        "2024-05-01", "2025-05-01", "2026-05-01", "2027-05-01",
    ]  # fmt: skip
    without = f"{YEARLY}\nEXDATE;VALUE=DATE:20260501"
    assert "2026-05-01" not in [day for day, _ in spans(feed(without, **through), act)]


def test_an_occurrence_that_was_moved_is_taken_where_it_was_moved_to(act):
    """RFC 5545, 3.8.4.4 (RECURRENCE-ID)."""
    moved = (
        "UID:may@calvenna\nRECURRENCE-ID;VALUE=DATE:20260501\n"
        "DTSTART;VALUE=DATE:20260504\nSUMMARY:May day"
    )
    file = feed(f"UID:may@calvenna\n{YEARLY}", moved, through=date(2026, 12, 31))
    days = [day for day, _ in spans(file, act)]
    assert days == ["2024-05-01", "2025-05-01", "2026-05-04"]


def test_what_was_cancelled_is_left_out(act):
    """RFC 5545, 3.8.1.11 (STATUS)."""
    gone = "DTSTART;VALUE=DATE:20260624\nSUMMARY:Fair\nSTATUS:CANCELLED"
    kept = "DTSTART;VALUE=DATE:20260625\nSUMMARY:Feast"
    assert spans(feed(gone, kept), act) == [("2026-06-25", "2026-06-25")]


@pytest.mark.parametrize(
    ("event", "why"),
    [
        (YEARLY, "It repeats."),
        ("DTSTART:20260624T100000Z\nSUMMARY:Half a day", "It has hours."),
        ("DTSTART;VALUE=DATE:20260624\nDTEND:20260624T120000Z\nSUMMARY:x", "an hour"),
        ("DTSTART:midsummer\nSUMMARY:x", "cannot be read"),
        ("SUMMARY:No day", "DTSTART"),
        ("DTSTART;VALUE=DATE:20260624", "Say why"),
        ("DTSTART;VALUE=DATE:20260624\nDTEND;VALUE=DATE:20260601\nSUMMARY:x", "before"),
        ("DTSTART;VALUE=DATE:20260624\nDURATION:P800D\nSUMMARY:x", "more than a year"),
    ],
)
def test_an_entry_that_cannot_be_taken_says_why(act, event, why):
    good = "DTSTART;VALUE=DATE:20260625\nSUMMARY:Feast"
    read = checked(feed(good, event), act)
    (refused,) = read.refused
    assert why in " ".join(refused.problems)
    assert read.effects is None
    with pytest.raises(Refused, match="Nothing was entered"):
        import_holidays(calendar=read.calendar, source=feed(good, event), **act)
    assert not ClosedDays.objects.exists()


def test_what_repeats_every_week_belongs_to_the_weekdays(act):
    weekly = "DTSTART;VALUE=DATE:20200104\nSUMMARY:Saturday\nRRULE:FREQ=WEEKLY"
    read = checked(feed(weekly, through=date(2035, 1, 1)), act)
    assert "closed weekdays" in " ".join(read.refused[0].problems)


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (b"", "a.ics"),
        (b"BEGIN:VCALENDAR\r\nnonsense", "a.ics"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VCALENDAR", "a.ics"),
        (b"day,reason\n2026-06-24,Fair\n", "a.ics"),
        (b"when,what\n2026-06-24,Fair\n", "a.csv"),
        (b"", "a.csv"),
        (b"\x00\x01\x02", "a.csv"),
    ],
)
def test_what_is_no_list_of_days_is_told(act, content, name):
    with pytest.raises(Mistaken):
        checked(HolidayFile(content, name, Defaults()), act)


def test_a_table_names_kind_effect_and_paper_for_each_entry(act):
    read = checked(
        table(
            "Date;To;Name;Kind;Effect;Notification\n"
            "24/06/2026;26/06/2026;Midsummer;vacation;closed;\n"
            "2026-06-25;;Bench for petitions;vacation;open for election petitions;N 9\n"
        ),
        act,
    )
    assert not read.refused
    first, second = read.entries
    assert (first.last_day, first.kind) == (date(2026, 6, 26), "vacation")
    assert first.notification == "HB/G/1"
    assert second.effect == "open-for-election-petitions"
    assert second.notification == "N 9"


@pytest.mark.parametrize(
    "line",
    [
        "2026-02-30,Fair,,",
        ",Fair,,",
        "2026-06-24,,,",
        "2026-06-24,Fair,feast,",
        "2026-06-24,Fair,,ajar",
        "2026-06-24,Fair,holiday,,more",
    ],
)
def test_a_refused_line_is_named(act, line):
    (refused,) = checked(table(f"day,reason,kind,effect\n{line}\n"), act).refused
    assert refused.where == "Line 2"


def test_a_list_says_what_it_moves_and_is_taken_once(act):
    file = table(f"day,reason\n{WINDOW_ENDS},Lantern Fair\n")
    would = checked(file, act)
    assert would.effects is not None
    (end, *_) = would.effects.moved[0].moved
    assert (end.before, end.after) == (WINDOW_ENDS, WINDOW_ENDS + timedelta(days=1))
    assert not ClosedDays.objects.exists()
    taken = import_holidays(calendar=would.calendar, source=file, **act)
    assert taken.effects == would.effects
    assert ClosedDays.objects.get().number.startswith("CC-")
    again = checked(file, act)
    assert (again.entries, again.known) == ((), 1)
    with pytest.raises(Refused, match="in the calendar already"):
        import_holidays(calendar=would.calendar, source=file, **act)


def test_a_list_that_opens_days_is_taken_only_where_that_is_meant(act):
    storm = f"day,reason\n{WINDOW_ENDS},Lantern Fair\n"
    calendar = CourtCalendar.objects.get().number
    import_holidays(calendar=calendar, source=table(storm), **act)
    opened = f"day,reason,effect\n{WINDOW_ENDS},Fair called off,open\n"
    read = checked(table(opened), act)
    assert read.effects is not None
    # The least time of keeping governs, so that nothing is let go earlier.
    assert not read.effects.sooner
    import_holidays(calendar=calendar, source=table(opened), **act)
    assert ClosedDays.objects.count() == 2


@pytest.mark.parametrize(
    "role", ["custodian", "legal", "authority", "countersigner", "auditor"]
)
def test_only_the_administrator_imports(scene, role):
    who = {"actor": getattr(scene.cast, role), "at": given.NOW}
    file = table("day,reason\n2026-06-24,Fair\n")
    for act in (check_holidays, import_holidays):
        with pytest.raises(PowerMissing):
            act(calendar="Registry of the High Bench", source=file, **who)


@pytest.mark.parametrize("named", ["Registry of nowhere", "CC-000009-X", ""])
def test_a_calendar_that_is_not_there(act, named):
    with pytest.raises(NotThere):
        check_holidays(calendar=named, source=table("day,reason\n"), **act)
