"""Published holidays of a country as a source for a court's calendar.

Sources, beside each check: the holidays library 0.86 itself, run in the test, and for
Ireland section 2 and the Second Schedule of the Organisation of Working Time Act 1997
(from memory).
"""

from datetime import date, timedelta

import holidays
import pytest

from registry.models import AccessEntry, ClosedDays, CourtCalendar
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, Refused
from registry.usecases.holiday_lists import (
    PublishedHolidays,
    check_holidays,
    import_holidays,
    years_named,
)
from tests import given

pytestmark = pytest.mark.django_db

COURT = "Registry of the High Bench"
MARK = f" (holidays library {holidays.__version__}, to be confirmed)"


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.administrator, "at": given.NOW}


def checked(act, *words, **named):
    return check_holidays(
        calendar=COURT, source=PublishedHolidays(*words, **named), **act
    )


def test_every_holiday_of_the_years_is_an_entry_that_says_whence_it_comes(act):
    # Source: holidays 0.86, asked for the same years.
    reference = holidays.country_holidays("IE", years=[2026, 2027])
    read = checked(act, "ie", (2026, 2027))
    assert {entry.first_day: entry.reason for entry in read.entries} == {
        day: f"{name}{MARK}" for day, name in reference.items()
    }
    assert all(entry.last_day == entry.first_day for entry in read.entries)
    assert {entry.kind for entry in read.entries} == {"holiday"}
    assert {entry.effect for entry in read.entries} == {"closed-for-filing"}
    assert not ClosedDays.objects.exists()


@pytest.mark.parametrize(
    ("day", "name"),
    [
        # Organisation of Working Time Act 1997, Second Schedule (from memory):
        # 17 March; Easter Monday; the first Mondays of May, June and August.
        (date(2026, 3, 17), "Saint Patrick's Day"),
        (date(2026, 4, 6), "Easter Monday"),
        (date(2026, 6, 1), "June Bank Holiday"),
    ],
)
def test_known_days_are_there(act, day, name):
    reasons = {e.first_day: e.reason for e in checked(act, "IE", (2026,)).entries}
    assert reasons[day] == f"{name}{MARK}"


def test_what_is_an_estimate_is_said(act):
    """Source: holidays 0.86 marks feasts that hang on a sighting as estimated."""
    read = checked(act, "PK", (2026,))
    assert any("Eid al-Fitr (estimated)" in entry.reason for entry in read.entries)
    assert "estimates" in read.notes[0]
    assert "a person confirms" in read.notes[0]


def test_a_part_of_a_country_has_days_of_its_own(act):
    # Source: Banking and Financial Dealings Act 1971, Schedule 1 (from memory):
    # 2 January is a bank holiday in Scotland alone.
    second = date(2026, 1, 2)
    whole, part = checked(act, "GB", (2026,)), checked(act, "GB", (2026,), "sct")
    assert second not in {entry.first_day for entry in whole.entries}
    assert second in {entry.first_day for entry in part.entries}
    assert "SCT" in whole.notes[1]
    assert len(part.notes) == 1


def test_names_do_not_hang_on_the_language_of_the_machine(act, monkeypatch):
    for language in ("fr", "th", "en_US"):
        monkeypatch.setenv("LANGUAGE", language)
        reasons = [entry.reason for entry in checked(act, "FR", (2026,)).entries]
        assert f"Labor Day{MARK}" in reasons


def test_days_without_a_paper_carry_none(act):
    """A day counts as one of no receipt only by a paper that a person names."""
    assert {e.notification for e in checked(act, "IE", (2026,)).entries} == {""}
    confirmed = checked(act, "IE", (2026,), notification="HB/G/7").entries
    assert {entry.notification for entry in confirmed} == {"HB/G/7"}
    assert "Easter Monday" in {entry.reason for entry in confirmed}


def test_they_are_taken_once_and_what_they_move_is_said(act):
    ends = given.DECLARED + timedelta(days=46)
    place = next(
        code
        for code in holidays.list_supported_countries(include_aliases=False)
        if ends in holidays.country_holidays(code, years=ends.year)
    )
    source = PublishedHolidays(place, (ends.year,))
    would = check_holidays(calendar=COURT, source=source, **act)
    assert would.effects is not None
    moved = [end for row in would.effects.moved for end in row.moved]
    assert moved
    assert all(end.before < end.after for end in moved)
    taken = import_holidays(calendar=COURT, source=source, **act)
    assert taken.effects == would.effects
    assert ClosedDays.objects.count() == len(would.entries)
    note = AccessEntry.objects.filter(act="calendar.import_list").latest("pk")
    assert f"holidays library {holidays.__version__}: {place}" in str(note.detail)
    assert checked(act, place, (ends.year,)).known == len(would.entries)
    with pytest.raises(Refused, match="in the calendar already"):
        import_holidays(calendar=COURT, source=source, **act)


@pytest.mark.parametrize(
    ("words", "field", "why"),
    [
        (("XX", (2026,)), "country", "ISO 3166"),
        (("", (2026,)), "country", "ISO 3166"),
        (("HolidayBase", (2026,)), "country", "ISO 3166"),
        (("country_holidays", (2026,)), "country", "ISO 3166"),
        (("GB", (2026,), "TX"), "subdivision", "ENG, NIR, SCT, WLS"),
        (("IE", (2026,), "Q"), "subdivision", "leave it empty"),
        (("IE", (2026, 3000)), "years", "3000"),
        (("IE", (1600,)), "years", "1600"),
    ],
)
def test_what_the_library_does_not_know_is_told(act, words, field, why):
    for use_case in (check_holidays, import_holidays):
        with pytest.raises(Mistaken) as mistaken:
            use_case(calendar=COURT, source=PublishedHolidays(*words), **act)
        assert why in mistaken.value.errors[field][0]
    assert not ClosedDays.objects.exists()


def test_an_entry_that_cannot_be_taken_keeps_the_whole_list_out(act):
    source = PublishedHolidays("IE", (2026,), notification="x" * 201)
    read = check_holidays(calendar=COURT, source=source, **act)
    assert len(read.refused) == 10
    with pytest.raises(Refused, match="Nothing was entered"):
        import_holidays(calendar=COURT, source=source, **act)
    assert not ClosedDays.objects.exists()


def test_years_are_read_in_order_and_each_once():
    assert years_named("2027, 2026,2026") == (2026, 2027)


@pytest.mark.parametrize("text", ["", " , ", "next", "2026-2027", "-1", "²⁰²⁶"])
def test_what_are_no_years(text):
    with pytest.raises(ValueError, match="Write years as 2026"):
        years_named(text)


def test_a_century_at_once_is_too_much():
    with pytest.raises(ValueError, match="at most 20"):
        years_named(",".join(map(str, range(2000, 2021))))


@pytest.mark.parametrize(
    "role", ["custodian", "legal", "authority", "countersigner", "auditor"]
)
def test_only_the_administrator_takes_them(scene, role):
    who = {"actor": getattr(scene.cast, role), "at": given.NOW}
    calendar = CourtCalendar.objects.get().number
    for use_case in (check_holidays, import_holidays):
        with pytest.raises(PowerMissing):
            use_case(calendar=calendar, source=PublishedHolidays("IE", (2026,)), **who)
