"""The life of cases on record: linked, moved, split, expected; each keeps its own hold.

"Failure mode N" is the list of that name in this project's reference. Periods are those
of fixtures/schedules/calvenna-3.toml, counted by hand.
"""

from datetime import date, datetime, timedelta

import pytest

from registry.models import Case, CaseEvent, CaseLink, Contest, DisposalItem
from registry.queries.keeping import Keeper
from registry.rules.powers import PowerMissing, Role
from registry.rules.schedules import ContentKind
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    cases,
    finding,
    looks,
    setting_up,
)
from registry.usecases.case_links import link_cases
from registry.usecases.case_looks import CasesWanted, list_cases, look_at_case
from tests import given

pytestmark = pytest.mark.django_db

SLIPS_KEPT_THROUGH = date(2026, 10, 2)
FILED = date(2025, 11, 3)
PARTED = date(2026, 3, 2)
DECIDED = date(2026, 6, 1)


@pytest.fixture
def scene():
    return given.a_scene()


def legal(scene):
    return {"actor": scene.cast.legal, "at": given.NOW}


def happened(scene, case, kind, on=DECIDED, level="first", **more):
    return cases.record_case_event(
        case=case,
        kind=kind,
        level=level,
        occurred_on=on,
        paper=more.pop("paper", "Order 4"),
        **more,
        **legal(scene),
    )


def linked(scene, case, other, kind, on=PARTED):
    return link_cases(case=case, other=other, kind=kind, occurred_on=on, **legal(scene))


def kept_through(scene, constituency="11", on=given.TODAY):
    contest = Contest.objects.select_related(
        "election__schedule", "election__calendar"
    ).get(number=scene.contests[constituency])
    return Keeper(on).contest(contest, ContentKind.POLL_SLIPS)


def stands(scene, case):
    return look_at_case(case=case, **legal(scene)).row.stand.standing


def two_cases(scene):
    first = given.a_case(scene, occurred_on=FILED, first_event="filed")
    second = given.a_case(
        scene, occurred_on=PARTED, first_event="filed", parties="Rill v. Moss"
    )
    return first, second


# --- links -------------------------------------------------------------------------


def test_of_two_cases_heard_together_each_is_settled_by_itself(scene):
    """Failure mode 18: consolidated; settlement of one does not settle the other."""
    first, second = two_cases(scene)
    linked(scene, second, first, "consolidated-with")
    happened(scene, first, "finally-disposed-of", level="final")
    assert stands(scene, first) == "settled"
    assert kept_through(scene).governed_by == second
    assert kept_through(scene).retain_through is None
    happened(scene, second, "finally-disposed-of", level="final")
    assert kept_through(scene).is_over


def test_a_part_that_was_split_off_is_held_for_until_it_is_entered(scene):
    """Failure mode 18: split; the part not entered yet keeps the rest alive."""
    first = given.a_case(scene, occurred_on=FILED, first_event="filed")
    happened(scene, first, "split", PARTED)
    happened(scene, first, "dismissed")
    assert stands(scene, first) == "pending"
    part = given.a_case(scene, occurred_on=PARTED, parties="Rill v. Moss")
    assert stands(scene, first) == "pending", "entered, but linked with nothing"
    linked(scene, part, first, "split-from")
    assert CaseEvent.objects.filter(kind="split").count() == 1
    assert stands(scene, first) == "settled"
    assert kept_through(scene).governed_by == part


def test_the_link_enters_what_happened_in_the_other_case(scene):
    first, part = two_cases(scene)
    linked(scene, part, first, "split-from")
    event = CaseEvent.objects.get(kind="split")
    assert event.case.number == first
    assert event.occurred_on == PARTED
    happened(scene, first, "dismissed")
    assert stands(scene, first) == "settled"


def test_a_second_part_does_not_pass_for_the_first(scene):
    first, part = two_cases(scene)
    linked(scene, part, first, "split-from")
    happened(scene, first, "split", PARTED + timedelta(days=30))
    happened(scene, first, "dismissed")
    assert stands(scene, first) == "pending"


def test_a_cross_petition_outlives_the_petition(scene):
    first, cross = two_cases(scene)
    linked(scene, cross, first, "cross-petition-to")
    happened(scene, first, "withdrawn")
    assert stands(scene, first) == "settled"
    assert kept_through(scene).governed_by == cross


def test_a_petition_returned_and_filed_anew_leaves_no_gap(scene):
    """Failure mode 17: returned by the wrong forum and filed in another."""
    returned = given.a_case(scene, occurred_on=FILED, first_event="filed")
    happened(scene, returned, "returned-for-defects", PARTED)
    for day in (PARTED, PARTED + timedelta(days=60), given.TODAY):
        assert kept_through(scene, on=day).retain_through is None
    anew = given.a_case(
        scene, occurred_on=PARTED + timedelta(days=60), parties="Moss v. Tarn"
    )
    linked(scene, anew, returned, "filed-anew-after", PARTED + timedelta(days=60))
    happened(scene, returned, "finally-disposed-of", level="final")
    assert kept_through(scene).governed_by == anew
    shown = look_at_case(case=returned, **legal(scene)).links
    assert [(row.how, row.number) for row in shown] == [
        ("filed anew, after its return, as", anew)
    ]


def test_an_appeal_entered_as_a_case_of_its_own_holds_beside_the_first(scene):
    first, appeal = two_cases(scene)
    linked(scene, appeal, first, "appeal-from")
    happened(scene, first, "dismissed")
    assert stands(scene, first) == "settled"
    assert kept_through(scene).governed_by == appeal


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"kind": "friend-of"}, "kind"),
        ({"other": "CA-000099-X"}, "other"),
        ({"other": "itself"}, "other"),
        ({"occurred_on": given.TODAY + timedelta(days=1)}, "occurred_on"),
    ],
)
def test_a_link_that_cannot_be_is_mended_beside_its_field(scene, changed, field):
    first, second = two_cases(scene)
    link = {"case": second, "other": first, "kind": "split-from", "occurred_on": PARTED}
    changed = {name: second if v == "itself" else v for name, v in changed.items()}
    with pytest.raises(Mistaken) as mistaken:
        link_cases(**(link | changed), **legal(scene))
    assert list(mistaken.value.errors) == [field]
    assert not CaseLink.objects.exists()


def test_a_link_is_recorded_once(scene):
    first, second = two_cases(scene)
    linked(scene, second, first, "split-from")
    with pytest.raises(Mistaken, match="recorded already"):
        linked(scene, second, first, "split-from")


@pytest.mark.parametrize(
    "who", ["custodian", "authority", "countersigner", "auditor", "administrator"]
)
def test_only_the_legal_cell_links_cases(scene, who):
    first, second = two_cases(scene)
    link = {"case": second, "other": first, "kind": "split-from", "occurred_on": PARTED}
    with pytest.raises(PowerMissing):
        link_cases(**link, actor=getattr(scene.cast, who), at=given.NOW)
    client = given.browser_of(getattr(scene.cast, who))
    assert client.get(f"/cases/{second}/link/").status_code == 403
    assert client.post(f"/cases/{second}/link/", link).status_code == 403


def test_the_page_links_and_shows_it_on_both(scene):
    first, second = two_cases(scene)
    client = given.browser_of(scene.cast.legal)
    form = {"kind": "split-from", "other": first, "occurred_on": f"{PARTED}"}
    told = client.post(f"/cases/{second}/link/", form, follow=True).content.decode()
    assert "Split from" in told
    told = client.get(f"/cases/{first}/").content.decode()
    assert "A part of it goes on as" in told
    assert second in told
    missing = client.post(f"/cases/{second}/link/", form | {"other": ""})
    assert missing.status_code == 400
    assert "Choose the other case" in missing.content.decode()
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    assert given.browser_of(stranger).get(f"/cases/{first}/link/").status_code == 404


def test_a_link_is_not_known_before_its_entry(scene):
    """The second clock: the part counted as not entered until the link was recorded."""
    later = given.NOW + timedelta(days=5)
    first, part = two_cases(scene)
    happened(scene, first, "split", PARTED)
    happened(scene, first, "dismissed")
    happened(scene, part, "dismissed")
    link_cases(
        case=part, other=first, kind="split-from", occurred_on=PARTED,
        actor=scene.cast.legal, at=later,
    )  # fmt: skip
    contest = Contest.objects.get(number=scene.contests["11"])
    asked = (contest, ContentKind.POLL_SLIPS)
    assert Keeper(given.TODAY, given.NOW).contest(*asked).retain_through is None
    assert Keeper(given.TODAY, later).contest(*asked).is_over


# --- moved and named anew ----------------------------------------------------------


def test_a_case_is_found_under_every_number_it_had(scene):
    """Failure mode 18: transferred and renumbered; the old number is an alias."""
    case = given.a_case(scene, court_number="EP 7/2025", occurred_on=FILED)
    happened(
        scene,
        case,
        "transferred",
        PARTED,
        now_before="Harbour Bench of Calvenna",
        now_numbered="HB-EP 2/2026",
    )
    file = look_at_case(case=case, **legal(scene))
    assert (file.row.forum, file.row.court_number) == (
        "Harbour Bench of Calvenna",
        "HB-EP 2/2026",
    )
    assert [name.court_number for name in file.other_names] == ["EP 7/2025"]
    assert stands(scene, case) == "pending"
    for number in ("EP 7/2025", "HB-EP 2"):
        found = list_cases(wanted=CasesWanted(text=number), **legal(scene))
        assert [row.number for row in found.rows] == [case], number
        hits = finding.find(text=number, **legal(scene))
        assert case in {hit.number for hit in hits.hits}
    told = given.browser_of(scene.cast.auditor).get(f"/cases/{case}/").content.decode()
    assert "EP 7/2025" in told


def test_only_a_transfer_or_a_new_number_changes_what_a_case_is_called(scene):
    case = given.a_case(scene, court_number="EP 7/2025", occurred_on=FILED)
    with pytest.raises(Mistaken, match="Only a transfer"):
        happened(scene, case, "hearing", now_numbered="EP 8/2025")
    other = given.a_case(scene, court_number="EP 8/2025", parties="Rill v. Tarn")
    with pytest.raises(Mistaken, match=other):
        happened(scene, case, "renumbered", now_numbered="EP 8/2025")
    assert Case.objects.get(number=case).court_number == "EP 7/2025"


def test_a_substituted_petitioner_keeps_the_case_alive(scene):
    """Failure mode 13: abated, then a substitute within the time for it."""
    case = given.a_case(scene, occurred_on=FILED, first_event="filed")
    happened(scene, case, "abated", date(2026, 10, 26))
    # 30 days after Monday 26 October 2026 for an appeal; 14 for a substitute.
    assert kept_through(scene).retain_through == date(2026, 11, 25)
    happened(scene, case, "substituted", date(2026, 11, 2))
    assert kept_through(scene).retain_through is None


def test_a_dismissal_for_default_is_not_settled_inside_its_restoration(scene):
    """Failure mode 12."""
    case = given.a_case(scene, occurred_on=FILED, first_event="filed")
    happened(scene, case, "dismissed-for-default", date(2026, 10, 26))
    assert kept_through(scene).retain_through == date(2026, 11, 25)
    happened(scene, case, "restored", date(2026, 11, 2))
    assert kept_through(scene).retain_through is None


# --- expected ----------------------------------------------------------------------


def test_a_case_that_is_only_expected_holds_and_is_dropped_for_a_reason(scene):
    case = given.a_case(scene, first_event="expected", occurred_on=given.DECLARED)
    assert kept_through(scene).governed_by == case
    with pytest.raises(Mistaken, match="no longer expected"):
        happened(scene, case, "no-longer-expected", given.TODAY, note=" ")
    reason = "The police closed the inquiry, letter of 30 October."
    happened(
        scene, case, "no-longer-expected", date(2026, 10, 30), note=reason, paper=""
    )
    assert kept_through(scene).is_over
    told = " ".join(step.text for step in kept_through(scene).steps)
    assert reason.rstrip(".") in told


def test_a_case_that_was_filed_is_not_dropped_so(scene):
    case = given.a_case(scene, first_event="filed", occurred_on=FILED)
    happened(scene, case, "no-longer-expected", note="We think it is over.")
    assert kept_through(scene).retain_through is None


# --- what a case is against --------------------------------------------------------


def test_any_kind_of_proceeding_holds(scene):
    """Failure mode 20: a public-interest or criminal case holds as a petition does."""
    for kind in ("election-petition", "writ", "criminal", "other"):
        number = cases.enter_case(
            election=scene.election,
            kind=kind,
            forum="High Bench of Calvenna",
            parties=f"A v. B, {kind}",
            covers=cases.Covers(contests=(scene.contests["12"],)),
            occurred_on=FILED,
            **legal(scene),
        )
        assert kept_through(scene, "12").retain_through is None
        happened(scene, number, "finally-disposed-of", level="final")
        assert kept_through(scene, "12").is_over


def test_a_case_against_one_station_holds_the_whole_constituency_by_default(scene):
    """Failure mode 21: narrowing needs authority and reason."""
    station = cases.Covers(stations=("11/001",))
    with pytest.raises(Mistaken, match="authority"):
        given.a_case(scene, covers=station)
    given.a_case(scene)
    assert kept_through(scene).retain_through is None


# --- kept apart --------------------------------------------------------------------


def a_by_election(scene):
    """A second election in the same constituency, declared two months ago."""
    contest = Contest.objects.select_related("election").get(
        number=scene.contests["11"]
    )
    admin = {"actor": scene.cast.administrator, "at": given.NOW}
    election = setting_up.set_up_election(
        code="by-11",
        name="By-Election of Harbour Reach",
        schedule=contest.election.schedule.number,
        calendar=contest.election.calendar.number,
        **admin,
    )
    polled = date(2026, 8, 30)
    return election, setting_up.set_up_contest(
        election=election,
        constituency_number="11",
        constituency_name="Harbour Reach",
        days=setting_up.ContestDays(polled, polled, date(2026, 9, 2)),
        source="Declaration",
        **admin,
    )


def kept_in(contest, on=given.TODAY):
    found = Contest.objects.select_related(
        "election__schedule", "election__calendar"
    ).get(number=contest)
    return Keeper(on).contest(found, ContentKind.POLL_SLIPS)


def test_a_by_election_is_kept_apart_from_the_election_before(scene):
    """Failure mode 25: the old hold neither extends to the new one nor is released by
    it; failure mode 27: the old material stays until its case is finally settled."""
    old = given.a_case(scene, occurred_on=FILED, first_event="filed")
    election, contest = a_by_election(scene)
    # Twelve months after 2 September 2026.
    assert kept_in(contest).retain_through == date(2027, 9, 2)
    assert kept_in(scene.contests["11"]).governed_by == old
    lawyer = given.appointed(
        scene.cast.administrator, "by.law", given.Role.LEGAL, elections=(election,)
    )
    new = cases.enter_case(
        election=election,
        kind="election-petition",
        forum="High Bench of Calvenna",
        parties="Rill v. Returning Officer",
        covers=cases.Covers(whole_election=True),
        occurred_on=date(2026, 9, 20),
        actor=lawyer,
        at=given.NOW,
    )
    assert kept_in(contest).governed_by == new
    happened(scene, old, "allowed", date(2026, 6, 1))
    assert kept_in(scene.contests["11"]).is_over
    assert kept_in(contest).retain_through is None
    with pytest.raises(NotThere):
        look_at_case(case=old, actor=lawyer, at=given.NOW)


def test_a_case_cannot_name_the_contest_of_another_election(scene):
    """Failure mode 25: the same constituency number, another election."""
    _, contest = a_by_election(scene)
    with pytest.raises(Mistaken):
        given.a_case(scene, covers=cases.Covers(contests=(contest,)))


def test_a_box_of_one_election_takes_nothing_of_the_other(scene):
    """Failure modes 25 and 29: boxes may not mix; an envelope that names another
    election goes into quarantine."""
    a_by_election(scene)
    box = given.logged(scene, given.an_open_box()).number
    stray = given.changed(
        given.an_envelope_on_the_table(),
        given.Marking.ELECTION,
        "By-Election of Harbour Reach",
    )
    logged = given.logged(scene, stray, box=box)
    assert logged.box != box
    page = looks.look_at_envelope(
        envelope=logged.number, actor=scene.cast.custodian, at=given.NOW
    )
    assert page.state == "quarantined"


def test_after_a_re_poll_the_final_declaration_counts_and_both_polls_stay(scene):
    """Failure mode 24: another poll date at one station; the window runs from the final
    declaration."""
    contest = scene.contests["11"]
    before = kept_in(contest).retain_through
    setting_up.record_contest_dates(
        contest=contest,
        days=setting_up.ContestDays(
            given.POLLED, given.COUNTED + timedelta(days=10),
            given.DECLARED + timedelta(days=14),
        ),
        source="Declaration after the re-poll",
        **legal(scene),
    )  # fmt: skip
    assert before == SLIPS_KEPT_THROUGH
    # Declared anew on 16 October 2025.
    assert kept_in(contest).retain_through == date(2026, 10, 16)


def test_days_are_those_of_the_elections_legal_zone(scene):
    """Failure mode 33: at 23:30 UTC it is the next day already ten hours to the east,
    and the last day of keeping ends at its own midnight."""
    contest = Contest.objects.select_related(
        "election__schedule", "election__calendar"
    ).get(number=scene.contests["11"])
    contest.election.legal_zone = "Etc/GMT-10"
    last_evening = datetime.fromisoformat("2026-10-02T13:30:00+00:00")
    keeper = Keeper(last_evening)
    assert not keeper.contest(contest, ContentKind.POLL_SLIPS).is_over
    after_midnight = Keeper(last_evening + timedelta(hours=1))
    assert after_midnight.contest(contest, ContentKind.POLL_SLIPS).is_over
    contest.election.legal_zone = "UTC"
    still_there = Keeper(last_evening + timedelta(hours=1))
    assert not still_there.contest(contest, ContentKind.POLL_SLIPS).is_over


def test_a_petition_that_comes_during_the_shredding_stops_the_next_box(scene):
    """Failure mode 3: what was done is certified, what was not is refused."""
    done, left = given.a_shelved_box(scene), given.a_shelved_box_of_station_two(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [done.number, left.number])
    given.a_checked_seal(scene, done.number)
    given.a_checked_seal(scene, left.number, "PS-0002")
    given.disposed_of(scene, done.number, permission)
    case = given.a_case(scene, occurred_on=given.TODAY)
    with pytest.raises(Refused, match=case):
        given.disposed_of(scene, left.number, permission)
    items = DisposalItem.objects.filter(box__isnull=False)
    assert [item.box_id for item in items] == [done.pk]
    left.refresh_from_db()
    assert left.state == "held"


def test_a_constituency_that_was_renumbered_is_found_in_both_elections(scene):
    """Failure mode 30: history stays with the old version; a search finds both, and a
    hold on the one is none on the other."""
    election, _ = a_by_election(scene)
    later = setting_up.set_up_contest(
        election=election,
        constituency_number="31",
        constituency_name="Quillmoor",
        days=setting_up.ContestDays(date(2026, 8, 30), date(2026, 8, 30)),
        source="Order of delimitation",
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    found = finding.find(text="Quillmoor", actor=scene.cast.auditor, at=given.NOW)
    numbers = {hit.number for hit in found.hits if hit.noun == "contest"}
    assert numbers == {scene.contests["12"], later}
    case = given.a_case(scene, "12", occurred_on=FILED)
    assert kept_in(scene.contests["12"]).governed_by == case
    assert case not in {hold.governed_by for hold in kept_in(later).holds}


def test_a_part_split_off_is_of_the_same_election(scene):
    """Brief, point 4: another case would pass for the part, and the first let go."""
    first, _ = two_cases(scene)
    known = Case.objects.get(number=first).election
    there = setting_up.set_up_election(
        code="by-election",
        name="By-election of Calvenna",
        schedule=known.schedule.number,
        calendar=known.calendar.number,
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    both = given.appointed(
        scene.cast.administrator,
        "nils.law",
        Role.LEGAL,
        elections=(scene.election, there),
    )
    act = {"actor": both, "at": given.NOW}
    stranger = cases.enter_case(
        election=there,
        kind="election-petition",
        forum="High Bench of Calvenna",
        parties="Sedge v. Rill",
        covers=cases.Covers(whole_election=True),
        occurred_on=PARTED,
        **act,
    )
    with pytest.raises(Mistaken, match="same election"):
        link_cases(
            case=stranger, other=first, kind="split-from", occurred_on=PARTED, **act
        )
