"""`import-calendar`: a dry run unless told otherwise; all of a list, or nothing."""

import json
from datetime import date, timedelta
from io import StringIO

import holidays
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from registry.models import ClosedDays, CourtCalendar
from tests import given

pytestmark = pytest.mark.django_db

WINDOW_ENDS = given.DECLARED + timedelta(days=46)
COURT = "Registry of the High Bench"


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def listed(scene, tmp_path) -> str:
    path = tmp_path / "holidays.csv"
    path.write_text(f"day,reason\n{WINDOW_ENDS},Lantern Fair\n2026-12-24,Midwinter\n")
    return str(path)


def ran(*words: str) -> str:
    out = StringIO()
    call_command("import-calendar", *words, stdout=out)
    return out.getvalue()


def test_nothing_is_taken_unless_it_is_for_real(listed):
    told = json.loads(ran(listed, "--calendar", COURT, "--json"))
    assert set(told) == {
        "calendar", "taken", "entries", "known", "refused", "later", "earlier",
        "unchanged", "moved", "note", "notes",
    }  # fmt: skip
    assert (told["taken"], len(told["entries"])) == (False, 2)
    ends = {
        (end["before"], end["after"]) for row in told["moved"] for end in row["ends"]
    }
    after = WINDOW_ENDS + timedelta(days=1)
    assert ends == {(WINDOW_ENDS.isoformat(), after.isoformat())}
    assert not ClosedDays.objects.exists()


def test_a_list_is_taken_with_the_paper_it_is_published_in(listed):
    calendar = CourtCalendar.objects.get().number
    text = ran(listed, "--calendar", calendar, "--notification", "HB/G/1", "--for-real")
    assert "taken: 2" in text
    papers = set(ClosedDays.objects.values_list("notification", "kind"))
    assert papers == {("HB/G/1", "holiday")}
    again = json.loads(ran(listed, "--calendar", calendar, "--json", "--for-real"))
    assert (again["taken"], again["known"]) == (False, 2)


def test_a_refused_entry_keeps_the_whole_list_out(scene, tmp_path):
    path = tmp_path / "holidays.csv"
    path.write_text("day,reason\n2026-12-24,Midwinter\n2026-02-30,Lantern Fair\n")
    with pytest.raises(CommandError, match=r"nothing taken, refused 1.*Line 3") as no:
        ran(str(path), "--calendar", COURT, "--for-real")
    assert no.value.returncode == 1
    assert not ClosedDays.objects.exists()


def test_a_feed_that_repeats_is_followed_through_a_day(scene, tmp_path):
    path = tmp_path / "holidays.ics"
    lines = ["BEGIN:VCALENDAR", "BEGIN:VEVENT", "UID:1", "SUMMARY:Fair",
             "DTSTART;VALUE=DATE:20250624", "RRULE:FREQ=YEARLY", "END:VEVENT",
             "END:VCALENDAR", ""]  # fmt: skip
    path.write_text("\r\n".join(lines), newline="")
    with pytest.raises(CommandError, match="It repeats"):
        ran(str(path), "--calendar", COURT, "--for-real")
    ran(str(path), "--calendar", COURT, "--for-real", "--through", "2027-12-31")
    assert ClosedDays.objects.count() == 3


@pytest.mark.parametrize(
    "words",
    [
        ("missing.csv", "--calendar", COURT),
        ("{listed}", "--calendar", "Registry of nowhere"),
    ],
)
def test_wrong_usage_is_told_in_one_line(listed, words):
    with pytest.raises(CommandError) as wrong:
        ran(*(word.format(listed=listed) for word in words))
    assert wrong.value.returncode == 2


def test_a_file_that_is_no_list_is_wrong_usage(scene, tmp_path):
    path = tmp_path / "notes.csv"
    path.write_text("dear registrar\nwe are closed tomorrow\n")
    with pytest.raises(CommandError, match="lacks the column") as wrong:
        ran(str(path), "--calendar", COURT)
    assert wrong.value.returncode == 2


LIBRARY = ("--from-library", "IE", "--years", "2026,2027")


def test_the_holidays_library_is_a_source_that_can_be_chosen(scene):
    # Source: holidays 0.86, asked for the same years.
    reference = holidays.country_holidays("IE", years=[2026, 2027])
    told = json.loads(ran(*LIBRARY, "--calendar", COURT, "--json"))
    assert {date.fromisoformat(e["first_day"]) for e in told["entries"]} == {*reference}
    assert "estimates" in told["notes"][0]
    assert not ClosedDays.objects.exists()
    text = ran(*LIBRARY, "--calendar", COURT, "--for-real")
    assert f"taken: {len(reference)}" in text
    assert "a person confirms each day" in text
    entry = ClosedDays.objects.get(first_day=date(2026, 3, 17))
    assert "to be confirmed" in entry.reason
    assert (entry.kind, entry.notification) == ("holiday", "")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "Name a FILE"),
        (("{listed}", *LIBRARY), "goes without FILE"),
        (("{listed}", "--years", "2026"), "--years goes with --from-library"),
        (("{listed}", "--subdivision", "X"), "--subdivision goes with"),
        (("--from-library", "IE"), "--years: Write years"),
        (("--from-library", "IE", "--years", "soon"), "--years: Write years"),
        ((*LIBRARY, "--kind", "holiday"), "goes without --kind"),
        ((*LIBRARY, "--through", "2027-01-01"), "goes without --through"),
        ((*LIBRARY, "--subdivision", "Q"), "knows no part “Q” of IE"),
        (("--from-library", "XX", "--years", "2026"), "no country or region “XX”"),
        (("--from-library", "", "--years", "2026"), "no country or region"),
    ],
)
def test_sources_that_cannot_be_are_told_in_one_line(listed, words, why):
    with pytest.raises(CommandError, match=why) as wrong:
        ran(*(word.format(listed=listed) for word in words), "--calendar", COURT)
    assert wrong.value.returncode == 2
    assert not ClosedDays.objects.exists()
