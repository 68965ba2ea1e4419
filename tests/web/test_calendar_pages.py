"""Pages of the courts' calendars: looked at first, then entered; who may do which."""

import re
from datetime import timedelta

import holidays
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import ClosedDays, CourtCalendar, LimitExtension
from tests import given

pytestmark = pytest.mark.django_db

# The forty-fifth day after the declaration is a Sunday.
LAST_DAY = given.DECLARED + timedelta(days=46)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def admin(scene):
    return given.browser_of(scene.cast.administrator)


@pytest.fixture
def calendar(scene) -> str:
    return CourtCalendar.objects.get().number


def looked_at(client, address: str, form: dict[str, str]) -> dict[str, str]:
    """The form as the page gives it back once its preview has been shown."""
    page = client.post(address, form)
    assert page.status_code == 200, page.content.decode()
    sign = re.search(r'name="looked" value="([0-9a-f]+)"', page.content.decode())
    assert sign
    return {**form, "looked": sign[1]}


def entered(client, address: str, form: dict[str, str]):
    return client.post(address, looked_at(client, address, form))


THE_LAST_DAY = {
    "first_day": LAST_DAY.isoformat(),
    "effect": "closed-for-filing",
    "kind": "event",
    "reason": "storm",
    "notification": "HB/N/12",
}


def test_what_a_closed_day_moves_is_shown_before_it_is_entered(admin, scene, calendar):
    """Failure mode 4: a window ends on a day on which the court is closed."""
    page = admin.post(f"/calendars/{calendar}/closed/", THE_LAST_DAY).content.decode()
    after = LAST_DAY + timedelta(days=1)
    assert f"{LAST_DAY:%-d %B %Y} → {after:%-d %B %Y}" in page
    assert "11 Harbour Reach" in page
    assert "Nothing is entered yet." in page
    assert not ClosedDays.objects.exists()


def test_it_is_entered_once_looked_at_and_its_page_shows_what_it_moves(admin, calendar):
    answer = entered(admin, f"/calendars/{calendar}/closed/", THE_LAST_DAY)
    entry = ClosedDays.objects.get()
    assert answer["Location"] == f"/calendars/{calendar}/entries/{entry.number}/"
    page = admin.get(answer["Location"]).content.decode()
    assert "HB/N/12" in page
    assert f"{LAST_DAY:%-d %B %Y} → " in page
    assert (entry.kind, entry.effect) == ("event", "closed-for-filing")


def test_other_values_than_those_looked_at_are_shown_again(admin, calendar):
    address = f"/calendars/{calendar}/closed/"
    form = looked_at(admin, address, THE_LAST_DAY)
    answer = admin.post(address, {**form, "reason": "strike"})
    assert answer.status_code == 200
    assert not ClosedDays.objects.exists()


def test_days_are_opened_only_with_their_paper(admin, calendar):
    form = {**THE_LAST_DAY, "effect": "open-for-election-petitions"}
    address = f"/calendars/{calendar}/closed/"
    without = admin.post(address, {**form, "notification": ""})
    assert without.status_code == 400
    assert "name the notification" in without.content.decode()


def test_an_entry_is_struck_with_its_reason_and_stays(admin, calendar):
    entered(admin, f"/calendars/{calendar}/closed/", THE_LAST_DAY)
    entry = ClosedDays.objects.get().number
    address = f"/calendars/{calendar}/entries/{entry}/strike/"
    form = looked_at(admin, address, {"because": "of another registry"})
    # Without it the window ends sooner; the minimum time governs all the same.
    assert admin.post(address, form)["Location"].endswith(f"/{entry}/")
    page = admin.get(f"/calendars/{calendar}/").content.decode()
    assert "struck: of another registry" in page
    again = admin.post(address, {"because": "once more"})
    assert again.status_code == 409
    assert "is struck already" in again.content.decode()


def test_an_extension_without_an_end_is_entered_and_later_ended(admin, calendar):
    """Failure mode 6: limits extended for everybody, and no end date."""
    form = {
        "from_on": LAST_DAY.isoformat(),
        "made_on": LAST_DAY.isoformat(),
        "notification": "HB/General/4",
        "then_days": "",
    }
    answer = entered(admin, f"/calendars/{calendar}/extended/", form)
    page = admin.get(answer["Location"]).content.decode()
    assert "no end yet" in page
    assert "→ no end" in page
    address = f"{answer['Location']}end/"
    until = LAST_DAY + timedelta(days=20)
    ending = {"until_on": until.isoformat(), "then_days": "90", "notification": "HB/5"}
    form = looked_at(admin, address, ending)
    refused = admin.post(address, form)
    assert refused.status_code == 400
    assert "say that this is meant" in refused.content.decode()
    assert LimitExtension.objects.get().until_on is None
    done = admin.post(address, {**form, "earlier_accepted": "on"})
    assert done.status_code == 302
    assert LimitExtension.objects.get().until_on == until


def test_the_closed_weekdays_are_changed_by_a_paper(admin, calendar):
    address = f"/calendars/{calendar}/weekdays/"
    form = {"weekdays": ["4", "5", "6"], "because": "HB/Rules/9"}
    answer = entered(admin, address, form)
    assert answer["Location"] == f"/calendars/{calendar}/"
    assert "Friday, Saturday, Sunday" in admin.get(answer["Location"]).content.decode()


FEED = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//calvenna//holidays//EN
BEGIN:VEVENT
UID:fair@calvenna
DTSTAMP:20250101T000000Z
DTSTART;VALUE=DATE:{day:%Y%m%d}
SUMMARY:Lantern Fair
END:VEVENT
END:VCALENDAR
"""


def test_a_feed_is_checked_first_and_then_taken(admin, calendar):
    address = f"/calendars/{calendar}/import/"
    content = FEED.format(day=LAST_DAY).replace("\n", "\r\n").encode()
    upload = SimpleUploadedFile("holidays.ics", content)
    form = {"file": upload, "kind": "holiday", "notification": "HB/Gazette/1"}
    page = admin.post(address, form).content.decode()
    assert "Lantern Fair" in page
    assert "1 new entry" in page
    assert not ClosedDays.objects.exists()
    carried = re.search(r'name="carried" value="([^"]+)"', page)[1]
    assert admin.post(address, {"carried": carried}).status_code == 302
    entry = ClosedDays.objects.get()
    assert (entry.first_day, entry.notification) == (LAST_DAY, "HB/Gazette/1")
    again = admin.post(address, {"carried": carried})
    assert again.status_code == 409
    assert "in the calendar already" in again.content.decode()


def test_a_carried_list_that_was_altered_is_refused(admin, calendar):
    answer = admin.post(f"/calendars/{calendar}/import/", {"carried": "made:up:list"})
    assert answer.status_code == 409


def test_refused_entries_are_shown_and_nothing_can_be_taken(admin, calendar):
    lines = "day,reason\n2026-02-30,Lantern Fair\n"
    upload = SimpleUploadedFile("holidays.csv", lines.encode())
    form = {"file": upload, "kind": "holiday"}
    page = admin.post(f"/calendars/{calendar}/import/", form).content.decode()
    assert "Line 2" in page
    assert "cannot be read as a day" in page
    assert 'name="carried"' not in page


PUBLISHED = {"country": "IE", "years": "2026,2027"}


def test_published_holidays_are_checked_first_and_then_taken(admin, calendar):
    address = f"/calendars/{calendar}/import/published/"
    start = admin.get(f"/calendars/{calendar}/import/").content.decode()
    assert f'action="{address}"' in start
    page = admin.post(address, PUBLISHED).content.decode()
    # Source: holidays 0.86, asked for the same years.
    reference = holidays.country_holidays("IE", years=[2026, 2027])
    assert f"{len(reference)} new entries" in page
    assert "a person confirms each day" in page
    assert "Saint Patrick&#x27;s Day" in page
    assert not ClosedDays.objects.exists()
    carried = re.search(r'name="carried" value="([^"]+)"', page)[1]
    assert admin.post(address, {"carried": carried}).status_code == 302
    assert {row.first_day for row in ClosedDays.objects.all()} == {*reference}
    again = admin.post(address, {"carried": carried})
    assert again.status_code == 409
    assert "in the calendar already" in again.content.decode()


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ({**PUBLISHED, "country": "XX"}, "no country or region “XX”"),
        ({**PUBLISHED, "subdivision": "Q"}, "no part “Q” of IE"),
        ({**PUBLISHED, "years": "soon"}, "Write years as 2026"),
        ({**PUBLISHED, "years": "3000"}, "no public holiday of IE in 3000"),
        ({"years": "2026"}, "Write the code of the country"),
        ({"country": "IE"}, "Write the years"),
    ],
)
def test_published_holidays_that_are_not_known(admin, calendar, form, why):
    answer = admin.post(f"/calendars/{calendar}/import/published/", form)
    assert answer.status_code == 400
    assert why in answer.content.decode()
    assert 'name="carried"' not in answer.content.decode()


ACTS = ("import/published/", "closed/", "extended/", "weekdays/", "import/")
READERS = ("custodian", "legal", "authority", "countersigner", "auditor")


@pytest.mark.parametrize("role", READERS)
def test_others_read_and_enter_nothing(scene, admin, calendar, role):
    entered(admin, f"/calendars/{calendar}/closed/", THE_LAST_DAY)
    entry = ClosedDays.objects.get().number
    client = given.browser_of(getattr(scene.cast, role))
    seen = client.get(f"/calendars/{calendar}/").content.decode()
    assert "storm" in seen
    assert "Import a list" not in seen
    assert client.get(f"/calendars/{calendar}/entries/{entry}/").status_code == 200
    for act in (*ACTS, f"entries/{entry}/strike/", f"entries/{entry}/end/"):
        address = f"/calendars/{calendar}/{act}"
        assert client.get(address).status_code == 403
        assert client.post(address, THE_LAST_DAY).status_code == 403


def test_guessed_addresses_are_not_there(admin, calendar, scene):
    entered(admin, f"/calendars/{calendar}/closed/", THE_LAST_DAY)
    entry = ClosedDays.objects.get().number
    other = admin.post("/calendars/new/", {"name": "Other", "closed_weekdays": ["6"]})
    for address in (
        f"{other['Location']}entries/{entry}/",
        f"{other['Location']}entries/{entry}/strike/",
        f"/calendars/{scene.election}/",
        f"/calendars/{calendar}/entries/{scene.election}/",
        f"/calendars/{calendar}/entries/nonsense/",
    ):
        assert admin.get(address).status_code == 404
    strike = f"{other['Location']}entries/{entry}/strike/"
    assert admin.post(strike, {"because": "guessed"}).status_code == 404


def test_a_legal_officer_sees_what_moves_of_own_elections_alone(scene, admin, calendar):
    entered(admin, f"/calendars/{calendar}/closed/", THE_LAST_DAY)
    entry = ClosedDays.objects.get().number
    address = f"/calendars/{calendar}/entries/{entry}/"
    mine = given.browser_of(scene.cast.legal).get(address).content.decode()
    other = given.appointed(scene.cast.administrator, "len.law", given.Role.LEGAL)
    theirs = given.browser_of(other).get(address).content.decode()
    assert "11 Harbour Reach" in mine
    assert "11 Harbour Reach" not in theirs
