"""Pages of a contest, of confirmations, and of the date reckoner."""

from datetime import timedelta

import pytest

from registry.models import AccessEntry, Contest
from registry.rules.markings import Marking
from registry.rules.powers import Role
from registry.rules.schedules import ContentKind
from tests import given

pytestmark = pytest.mark.django_db

ROLES = ("custodian", "legal", "authority", "countersigner", "auditor", "administrator")


@pytest.fixture
def scene():
    return given.a_scene()


def contest_page(scene, who="legal", constituency="11"):
    client = given.browser_of(getattr(scene.cast, who))
    return client.get(f"/contests/{scene.contests[constituency]}/")


def a_dates_form(**changed):
    form = {
        "polled_on": f"{given.POLLED:%Y-%m-%d}",
        "counted_on": f"{given.COUNTED:%Y-%m-%d}",
        "declared_on": f"{given.DECLARED:%Y-%m-%d}",
        "source": "Return of the returning officer",
    }
    return form | changed


@pytest.mark.parametrize("who", ROLES)
def test_every_role_may_open_a_contest(scene, who):
    assert contest_page(scene, who).status_code == 200


def test_the_administrator_sees_neither_containers_nor_cases(scene):
    box = given.a_shelved_box(scene)
    case = given.a_case(scene)
    shown = contest_page(scene, "administrator").content.decode()
    assert "Customs Quay School" in shown
    assert "Reckoned from the dates alone" in shown
    for hidden in (case, box.number, "Registered", "Confirmations", "Moss"):
        assert hidden not in shown, hidden
    # Nothing about the case may be read out of the time of keeping either.
    assert contest_page(scene, "legal").content.decode().count(case) > 1


@pytest.mark.parametrize("who", ROLES)
def test_who_may_record_dates_and_confirmations(scene, who):
    contest = scene.contests["11"]
    client = given.browser_of(getattr(scene.cast, who))
    may = {
        f"/contests/{contest}/dates/": ("legal", "administrator"),
        f"/contests/{contest}/confirmations/new/": ("legal",),
    }
    for address, roles in may.items():
        assert client.get(address).status_code == (200 if who in roles else 403)
        posted = client.post(address, {"source": ""}).status_code
        assert posted == (400 if who in roles else 403), address


@pytest.mark.parametrize("who", ROLES)
def test_who_may_see_the_list_of_confirmations(scene, who):
    client = given.browser_of(getattr(scene.cast, who))
    status = 403 if who == "administrator" else 200
    assert client.get("/confirmations/").status_code == status


def test_a_contest_of_another_lawyers_election_is_not_there(scene):
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    client = given.browser_of(stranger)
    contest = scene.contests["11"]
    for address in ("", "dates/", "confirmations/new/"):
        assert client.get(f"/contests/{contest}/{address}").status_code == 404
    assert "Harbour Reach" not in client.get("/confirmations/").content.decode()


def test_a_corrected_declaration_shows_the_retention_before_and_after(scene):
    """Failure mode 7: the declaration date is corrected after the window was
    counted. Twelve months by the demo schedule's rule 9(1)."""
    later = given.DECLARED + timedelta(days=10)
    client = given.browser_of(scene.cast.legal)
    address = f"/contests/{scene.contests['11']}/dates/"
    answer = client.post(
        address, a_dates_form(declared_on=f"{later:%Y-%m-%d}"), follow=True
    )
    assert answer.redirect_chain[0][0].endswith("#corrections")
    file = answer.context["file"]
    (correction,) = file.corrections
    slips = correction.kept[0]
    assert slips.before.held_until == given.DECLARED.replace(year=2026)
    assert slips.after.held_until == later.replace(year=2026)
    assert "Dates corrected" in answer.content.decode()


def test_a_date_that_was_not_known_is_no_correction():
    scene = given.a_scene(declared_on=None)
    client = given.browser_of(scene.cast.legal)
    address = f"/contests/{scene.contests['11']}/dates/"
    answer = client.post(address, a_dates_form(), follow=True)
    assert answer.context["file"].corrections == ()


def test_what_went_too_early_by_the_corrected_date_is_named(scene):
    """Failure mode 7: if the earlier value caused a release, list what is affected."""
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    client = given.browser_of(scene.cast.legal)
    later = given.TODAY - timedelta(days=100)
    answer = client.post(
        f"/contests/{scene.contests['11']}/dates/",
        a_dates_form(declared_on=f"{later:%Y-%m-%d}"),
        follow=True,
    )
    early = {each.number for each in answer.context["file"].disposed_early}
    assert box.number in early
    assert "Disposed of too early" in answer.content.decode()
    elsewhere = given.appointed(
        scene.cast.administrator,
        "gran.keeper",
        Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    page = given.browser_of(elsewhere).get(f"/contests/{scene.contests['11']}/")
    assert page.context["file"].disposed_early == ()


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"source": ""}, "Name the paper"),
        ({"declared_on": "3099-01-01"}, "has not come yet"),
        ({"declared_on": "2000-01-01"}, "Declaration follows counting"),
        ({"polled_on": "31/31/2025"}, "year-month-day"),
    ],
)
def test_mistaken_dates_are_told_beside_their_field(scene, changed, told):
    client = given.browser_of(scene.cast.administrator)
    address = f"/contests/{scene.contests['11']}/dates/"
    answer = client.post(address, a_dates_form(**changed))
    assert answer.status_code == 400
    assert told in answer.content.decode()
    unchanged = Contest.objects.get(number=scene.contests["11"])
    assert unchanged.declared_on == given.DECLARED


def test_each_unit_set_of_a_station_gives_an_envelope(scene):
    """Failure mode 56: a unit was replaced, so the station gives two envelopes; the
    one that is missing is named by station and unit set."""
    given.logged(scene, given.an_envelope_on_the_table())
    given.logged(
        scene,
        given.an_envelope_on_the_table(
            "003", name="Lamp House", control_unit="CU-11003",
            paper_trail_unit="PT-AA-11003", seal="W-0003",
        ),
    )  # fmt: skip
    file = contest_page(scene).context["file"]
    slips = next(t for t in file.stations.tallies if t.content == "Poll slips")
    assert (slips.expected, slips.registered, slips.short) == (4, 2, 2)
    short = {
        (s.station, s.unit_set)
        for s in file.stations.shortages
        if s.content == "Poll slips"
    }
    assert short == {
        ("002 Net Loft Hall", "CU-11002 with PT-AA-11002"),
        ("003 Lamp House", "CU-11903 with PT-AA-11903"),
    }


def test_what_is_only_in_quarantine_is_short_and_said_to_be_there(scene):
    arrival = given.changed(
        given.an_envelope_on_the_table(), Marking.STATION_NAME, "Another Hall"
    )
    given.logged(scene, arrival)
    file = contest_page(scene).context["file"]
    slips = next(t for t in file.stations.tallies if t.content == "Poll slips")
    assert (slips.registered, slips.quarantined, slips.short) == (0, 1, 4)
    assert [s.in_quarantine for s in file.stations.shortages].count(True) == 1


def test_disposed_envelopes_are_not_short(scene):
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    slips = contest_page(scene).context["file"].stations.tallies[0]
    assert (slips.registered, slips.disposed, slips.short) == (1, 1, 3)


def test_a_seat_that_was_not_contested_is_short_of_nothing(scene):
    """Failure mode 28."""
    from registry.usecases import setting_up

    contest = setting_up.set_up_contest(
        election=scene.election,
        constituency_number="13",
        constituency_name="Saltmere",
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    client = given.browser_of(scene.cast.legal)
    answer = client.get(f"/contests/{contest}/")
    assert answer.context["file"].stations.shortages == ()
    assert "no envelope is expected" in answer.content.decode()


def test_packets_are_expected_in_no_fixed_number(scene):
    tallies = contest_page(scene).context["file"].stations.tallies
    packets = next(t for t in tallies if t.content == "Statutory packet")
    assert packets.expected is None
    assert packets.short is None


def test_the_page_shows_each_contents_time_of_keeping(scene):
    kept = contest_page(scene).context["file"].kept
    assert [each.kind for each in kept] == [kind.value for kind in ContentKind]
    assert all(each.retention.steps for each in kept)


def test_a_confirmation_is_due_then_on_file_then_withdrawn(scene):
    client = given.browser_of(scene.cast.legal)
    contest = scene.contests["11"]

    def state():
        rows = client.get("/confirmations/").context["found"]
        return next(r.state for r in rows if r.contest_number == contest)

    assert state() == "due"
    day = f"{given.TODAY:%Y-%m-%d}"
    form = {
        "registry_of": "High Bench of Calvenna",
        "reference": "HB/REG/11",
        "dated": day,
        "covers_through": day,
    }
    address = f"/contests/{contest}/confirmations/"
    shown = client.post(f"{address}new/", form, follow=True)
    assert "HB/REG/11" in shown.content.decode()
    assert state() == "on-file"
    number = shown.context["file"].legal.confirmations[0].number
    withdrawal = {"withdrawn_on": day, "because": "A petition was found."}
    client.post(f"{address}{number}/withdraw/", withdrawal)
    assert state() == "due"
    again = client.post(f"{address}{number}/withdraw/", withdrawal)
    assert again.status_code == 409


def test_a_paper_from_before_the_windows_end_is_too_early(scene):
    client = given.browser_of(scene.cast.legal)
    early = f"{given.DECLARED + timedelta(days=20):%Y-%m-%d}"
    client.post(
        f"/contests/{scene.contests['11']}/confirmations/new/",
        {
            "registry_of": "High Bench of Calvenna",
            "reference": "HB/REG/1",
            "dated": early,
            "covers_through": early,
        },
    )
    rows = client.get("/confirmations/").context["found"]
    states = {row.contest_number: row.state for row in rows}
    assert states[scene.contests["11"]] == "too-early"
    assert states[scene.contests["12"]] == "due"


def test_a_pending_case_leaves_the_confirmation_without_an_end(scene):
    given.a_case(scene)
    rows = given.browser_of(scene.cast.legal).get("/confirmations/").context["found"]
    assert [row.state for row in rows] == ["due", "no-end"]


def test_a_paper_cannot_speak_of_days_to_come(scene):
    client = given.browser_of(scene.cast.legal)
    answer = client.post(
        f"/contests/{scene.contests['11']}/confirmations/new/",
        {
            "registry_of": "High Bench of Calvenna",
            "reference": "HB/REG/1",
            "dated": f"{given.TODAY - timedelta(days=1):%Y-%m-%d}",
            "covers_through": f"{given.TODAY:%Y-%m-%d}",
        },
    )
    assert answer.status_code == 400
    assert "up to its paper" in answer.content.decode()


def test_looks_are_entered(scene):
    contest_page(scene, "administrator")
    given.browser_of(scene.cast.auditor).get("/confirmations/")
    look = AccessEntry.objects.get(act="contest.look")
    assert (look.subject, look.role) == (scene.contests["11"], "administrator")
    listed = AccessEntry.objects.get(act="confirmation.list")
    assert {row.number for row in listed.shown.all()} == set(scene.contests.values())


PERIOD = {
    "start": "1974-04-30",
    "length": "45",
    "unit": "days",
    "counting": "exclude-first",
    "direction": "forward",
    "if_closed": "next-open",
    "month_end": "corresponding",
    "closed": "1974-05-25..1974-07-07",
}


@pytest.mark.parametrize("who", ROLES)
def test_everyone_may_count_a_period(scene, who):
    """Hari Shanker Tripathi v Shiv Harsh (1976): declared 30 April 1974, court closed
    25 May to 7 July 1974, petition of 8 July 1974 in time (published)."""
    client = given.browser_of(getattr(scene.cast, who))
    assert client.get("/dates/").status_code == 200
    shown = client.get("/dates/", PERIOD).content.decode()
    assert "8 July 1974" in shown
    assert "an aid only" in shown


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"start": ""}, "Give the day"),
        ({"length": "many"}, "whole number"),
        ({"length": "999999", "unit": "years"}, "leaves the calendar"),
        ({"closed": "1974-07-07..1974-05-25"}, "earlier day first"),
        ({"closed": "1974-05-25..1974-07-07, 1974-06-01"}, "given twice"),
        ({"closed": "25 May"}, "is not a day"),
        ({"other_starts": "1974-13-01"}, "is not a day"),
    ],
)
def test_a_period_that_cannot_be_is_told(scene, changed, told):
    client = given.browser_of(scene.cast.legal)
    answer = client.get("/dates/", PERIOD | changed)
    assert answer.status_code == 400
    assert told in answer.content.decode()


def test_counting_a_period_enters_no_record(scene):
    before = AccessEntry.objects.count()
    given.browser_of(scene.cast.legal).get("/dates/", PERIOD)
    assert AccessEntry.objects.count() == before
