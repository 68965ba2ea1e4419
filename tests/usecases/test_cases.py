"""Cases are entered when heard of, followed, and corrected in the open."""

from datetime import timedelta

import pytest

from registry.models import AccessEntry, Case, CaseEvent
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused, cases
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


def legal(scene):
    return {"actor": scene.cast.legal, "at": given.NOW}


def scopes_of(number):
    case = Case.objects.get(number=number)
    return {
        (s.contest.constituency_number, s.station and s.station.station_number)
        for s in case.scopes.filter(ended=False)
    }


@pytest.mark.parametrize(
    "who", ["custodian", "authority", "countersigner", "auditor", "administrator"]
)
def test_only_the_legal_cell_enters_cases(scene, who):
    case = given.a_case(scene)
    act = {"actor": getattr(scene.cast, who), "at": given.NOW}
    event = CaseEvent.objects.get().number
    attempts = (
        lambda: cases.record_case_event(
            case=case, kind="admitted", level="first", occurred_on=given.TODAY, **act
        ),
        lambda: cases.strike_case_event(case=case, event=event, because="x", **act),
        lambda: cases.record_court_number(
            case=case, court_number="EP 1", parties="x", **act
        ),
        lambda: cases.change_case_scope(
            case=case, covers=cases.Covers(whole_election=True), **act
        ),
        lambda: given.a_case(given.replace(scene, cast=_as_legal(scene, who))),
    )
    for attempt in attempts:
        with pytest.raises(PowerMissing):
            attempt()
    refused = AccessEntry.objects.filter(outcome="refused", act__startswith="case.")
    assert refused.count() == len(attempts)


def _as_legal(scene, who):
    return given.replace(scene.cast, legal=getattr(scene.cast, who))


def test_a_lawyer_of_another_election_finds_nothing(scene):
    case = given.a_case(scene)
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    with pytest.raises(NotThere):
        cases.record_case_event(
            case=case,
            kind="dismissed",
            level="first",
            occurred_on=given.TODAY,
            paper="J 1",
            actor=stranger,
            at=given.NOW,
        )


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"parties": " "}, "parties"),
        ({"forum": ""}, "forum"),
        ({"kind": "quarrel"}, "kind"),
        ({"first_event": "dismissed"}, "first_event"),
        ({"level": "lowest"}, "level"),
        ({"occurred_on": given.TODAY + timedelta(days=1)}, "occurred_on"),
        ({"covers": cases.Covers()}, "contests"),
        ({"covers": cases.Covers(contests=("CT-000099-X",))}, "contests"),
        ({"covers": cases.Covers(stations=("11/001",))}, "because"),
        (
            {"covers": cases.Covers(stations=("11/0777",), because="b", authority="a")},
            "stations",
        ),
    ],
)
def test_what_is_mistaken_is_named_by_field(scene, changed, field):
    entry = {
        "election": scene.election,
        "kind": "election-petition",
        "forum": "High Bench of Calvenna",
        "parties": "Moss v. Returning Officer",
        "covers": cases.Covers(contests=(scene.contests["11"],)),
        "occurred_on": given.TODAY,
    }
    with pytest.raises(Mistaken) as mistaken:
        cases.enter_case(**(entry | changed), **legal(scene))
    assert list(mistaken.value.errors) == [field]
    assert not Case.objects.exists()


def test_the_same_number_of_two_courts_is_two_cases(scene):
    """Case key: forum, type, number, year; two courts number alike (data
    dictionary, C.2 rule 3)."""
    given.a_case(scene, court_number="EP 7")
    with pytest.raises(Mistaken, match="entered already"):
        given.a_case(scene, court_number="EP 7")
    cases.enter_case(
        election=scene.election,
        kind="writ",
        forum="Court of Final Appeal of Calvenna",
        parties="Moss v. the Electoral Steward",
        covers=cases.Covers(whole_election=True),
        occurred_on=given.TODAY,
        court_number="EP 7",
        **legal(scene),
    )
    assert Case.objects.count() == 2


def test_a_number_learnt_later_may_not_be_another_cases(scene):
    first = given.a_case(scene, court_number="EP 7")
    second = given.a_case(scene, parties="Rill v. Returning Officer")
    with pytest.raises(Mistaken, match=first):
        cases.record_court_number(
            case=second, court_number="EP 7", parties="Rill", **legal(scene)
        )
    cases.record_court_number(
        case=second, court_number="EP 8", parties="Rill v. Tarn", **legal(scene)
    )
    assert Case.objects.get(number=second).court_number == "EP 8"


def test_stations_are_named_as_they_are_written(scene):
    case = given.a_case(
        scene,
        covers=cases.Covers(
            stations=("11/1", "12/002"), because="Named.", authority="HB order 3"
        ),
    )
    assert scopes_of(case) == {("11", "001"), ("12", "002")}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ({"contests": ("11", "12")}, {"contests": ("11",)}),
        ({"contests": ("11",)}, {"contests": ("12",)}),
        ({"whole_election": True}, {"contests": ("11", "12")}),
        ({"not_known": True}, {"contests": ("11",)}),
        ({"stations": ("11/001",)}, {"contests": ("12",)}),
        ({"stations": ("11/001", "11/002")}, {"stations": ("11/001",)}),
    ],
)
def test_whatever_lets_material_go_needs_a_reason_and_an_authority(
    scene, before, after
):
    why = {"because": "The petition names less.", "authority": "HB order 3"}
    case = given.a_case(scene, covers=_covers(scene, before, why))
    held = scopes_of(case)
    for half in ({}, {"because": "Less."}, {"authority": "HB order 3"}):
        with pytest.raises(Mistaken, match="authority"):
            cases.change_case_scope(
                case=case, covers=_covers(scene, after, half), **legal(scene)
            )
    assert scopes_of(case) == held
    cases.change_case_scope(
        case=case, covers=_covers(scene, after, why), **legal(scene)
    )
    assert scopes_of(case) != held
    assert "HB order 3" in Case.objects.get(number=case).note


def _covers(scene, named, why):
    numbers = {"contests": tuple(scene.contests[n] for n in named.get("contests", ()))}
    return cases.Covers(**(named | numbers), **why)


@pytest.mark.parametrize(
    "after",
    [{"contests": ("11", "12")}, {"whole_election": True}, {"not_known": True}],
)
def test_widening_needs_no_reason(scene, after):
    case = given.a_case(scene)
    cases.change_case_scope(case=case, covers=_covers(scene, after, {}), **legal(scene))
    ended = Case.objects.get(number=case).scopes.filter(ended=True)
    assert ended.count() == 1, "what it covered before stays on record"


def test_an_event_is_struck_once_and_its_correction_cannot_be(scene):
    case = given.a_case(scene)
    event = CaseEvent.objects.get().number
    correction = cases.strike_case_event(
        case=case,
        event=event,
        because="Of another case.",
        authority="High Bench, letter 4",
        **legal(scene),
    )
    for number in (event, correction):
        with pytest.raises(Refused, match="struck already"):
            cases.strike_case_event(
                case=case, event=number, because="Again.", authority="x", **legal(scene)
            )
    assert CaseEvent.objects.count() == 2


def test_striking_what_holds_needs_the_authority_for_it(scene):
    """As narrowing does: one officer alone lets nothing go by calling it an error."""
    case = given.a_case(scene)
    event = CaseEvent.objects.get().number
    with pytest.raises(Mistaken, match="authority"):
        cases.strike_case_event(
            case=case, event=event, because="Of another case.", **legal(scene)
        )
    assert not CaseEvent.objects.filter(strikes__isnull=False).exists()


def test_an_event_of_another_case_is_not_struck_from_here(scene):
    one, other = given.a_case(scene), given.a_case(scene, parties="Rill v. Tarn")
    event = CaseEvent.objects.get(case__number=other).number
    with pytest.raises(NotThere):
        cases.strike_case_event(case=one, event=event, because="x", **legal(scene))


def test_who_learnt_of_an_event_and_when_stands_beside_it(scene):
    given.a_case(scene, occurred_on=given.DECLARED)
    event = CaseEvent.objects.get()
    assert (event.occurred_on, event.recorded_at) == (given.DECLARED, given.NOW)
    assert event.recorded_by_id == scene.cast.legal.person_id
