"""What an entry would change: what is shown beforehand is what then happens.

Expected days are counted by hand from fixtures/schedules/calvenna-3.toml: slips of a
contest declared on 2 October 2025 are kept through 2 October 2026.
"""

from datetime import date, timedelta

import pytest

from registry.models import Box, Case, CaseEvent, Contest, Envelope, PreservationOrder
from registry.queries.keeping import Keeper
from registry.rules.powers import PowerMissing
from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, NotThere, cases, setting_up, what_if
from tests import given

pytestmark = pytest.mark.django_db

WHY = {"because": "The petition names one station.", "authority": "HB order 3"}
FREE_FROM = date(2026, 10, 3)


@pytest.fixture
def scene():
    scene = given.a_scene()
    given.a_shelved_box(scene)
    given.a_shelved_box_of_station_two(scene)
    return scene


def legal(scene):
    return {"actor": scene.cast.legal, "at": given.NOW}


def ends():
    """When each container may be disposed of, as the register answers now."""
    keeper = Keeper(given.TODAY)
    containers = [
        *Box.objects.select_related("contest__election"),
        *Envelope.objects.select_related("contest__election"),
    ]
    told = [keeper.container(each) for each in containers]
    return sorted(str(one.may_be_disposed_from) for one in told)


def shown(found, side):
    """The same, as what-if shows it."""
    return sorted(
        str(getattr(row, side))
        for row in found.effects.rows
        for _ in range(row.containers)
    )


def nothing_is_saved():
    return (
        Case.objects.count(),
        CaseEvent.objects.count(),
        PreservationOrder.objects.count(),
        Contest.history.count(),
    )


def an_entry(scene, **covers):
    return {
        "covers": cases.Covers(**(covers or {"contests": (scene.contests["11"],)})),
        "level": "first",
        "occurred_on": given.TODAY,
        **legal(scene),
    }


def entering(scene, **covers):
    entry = an_entry(scene, **covers)
    supposed = what_if.suppose_case(
        election=scene.election, first_event="filed", **entry
    )
    return supposed, lambda: given.a_case(
        scene, occurred_on=given.TODAY, covers=entry["covers"]
    )


def recording(scene, kind, on, level="first"):
    case = Case.objects.first() or Case.objects.get(number=given.a_case(scene))
    event = {
        "case": case.number, "kind": kind, "level": level, "occurred_on": on,
        "paper": "Judgment 4", "note": "A letter.", **legal(scene),
    }  # fmt: skip
    return what_if.suppose_case_event(**event), lambda: cases.record_case_event(**event)


def striking(scene):
    given.a_case(scene)
    event = CaseEvent.objects.get()
    struck = {"case": event.case.number, "event": event.number, **legal(scene)}
    return what_if.suppose_event_struck(**struck), lambda: cases.strike_case_event(
        because="Error.", authority="High Bench", **struck
    )


def narrowing(scene):
    case = given.a_case(scene)
    scope = {
        "case": case,
        "covers": cases.Covers(stations=("11/002",), **WHY),
        **legal(scene),
    }
    return what_if.suppose_case_scope(**scope), lambda: cases.change_case_scope(**scope)


def ordering(scene, until=None):
    order = {
        "election": scene.election, "dated": given.TODAY, "from_on": given.TODAY,
        "until_on": until, **legal(scene),
        "covers": cases.Covers(stations=("11/001",), **WHY),
    }  # fmt: skip
    return what_if.suppose_order(**order), lambda: cases.enter_preservation_order(
        issued_by="High Bench", order_ref="HB/P/4", **order
    )


def lifting(scene):
    ordering(scene)[1]()
    lifted = {
        "order": PreservationOrder.objects.get().number,
        "lifted_on": given.TODAY - timedelta(days=0),
        **legal(scene),
    }
    return what_if.suppose_lifting(**lifted), lambda: cases.lift_preservation_order(
        lifted_by_order="HB/P/9", **lifted
    )


def dating(scene):
    dates = {
        "contest": scene.contests["11"],
        "days": setting_up.ContestDays(
            given.POLLED, given.COUNTED, given.DECLARED + timedelta(days=90)
        ),
        **legal(scene),
    }
    return what_if.suppose_contest_dates(
        **dates
    ), lambda: setting_up.record_contest_dates(source="Gazette 8", **dates)


ENTRIES = {
    "a case": entering,
    "a case of one station": lambda s: entering(s, stations=("11/002",), **WHY),
    "a case of the whole election": lambda s: entering(s, whole_election=True),
    "a case of nobody knows what": lambda s: entering(s, not_known=True),
    "a dismissal": lambda s: recording(s, "dismissed", given.TODAY),
    "an old dismissal": lambda s: recording(s, "dismissed", date(2026, 6, 1)),
    "a case no longer expected": lambda s: recording(
        s, "no-longer-expected", given.TODAY
    ),
    "an event struck": striking,
    "a case narrowed": narrowing,
    "an order without an end": ordering,
    "an order with an end": lambda s: ordering(s, date(2027, 5, 4)),
    "an order lifted": lifting,
    "a date corrected": dating,
}


@pytest.mark.parametrize("entry", ENTRIES)
def test_what_is_shown_beforehand_is_what_then_happens(scene, entry):
    found, carry_out = ENTRIES[entry](scene)
    saved = nothing_is_saved()
    assert shown(found, "before") == ends()
    assert nothing_is_saved() == saved
    carry_out()
    assert shown(found, "after") == ends()


def test_it_tells_how_many_end_later_earlier_and_become_free(scene):
    found, _ = entering(scene)
    assert (found.effects.later, found.effects.earlier) == (4, 0)
    assert (found.freed, found.held_again) == (0, 4)
    assert found.as_of == given.TODAY
    found, _ = recording(scene, "dismissed", date(2026, 6, 1))
    # 30 days after 1 June 2026 were over long before 2 November.
    assert (found.effects.later, found.effects.earlier) == (0, 4)
    assert (found.freed, found.held_again) == (4, 0)
    (row,) = [row for row in found.effects.rows if row.containers]
    assert (row.before, row.after, row.content) == (None, FREE_FROM, "Poll slips")


def test_a_case_of_one_station_moves_only_what_stands_for_it(scene):
    found, _ = entering(scene, stations=("11/002",), **WHY)
    assert (found.effects.later, found.effects.unchanged) == (2, 2)


@pytest.mark.parametrize(
    "who", ["custodian", "authority", "countersigner", "auditor", "administrator"]
)
def test_only_those_who_may_enter_it_ask_what_it_would_change(scene, who):
    case = given.a_case(scene)
    act = {"actor": getattr(scene.cast, who), "at": given.NOW}
    with pytest.raises(PowerMissing):
        what_if.suppose_case_event(
            case=case, kind="dismissed", level="first", occurred_on=given.TODAY, **act
        )


def test_who_may_not_see_cases_learns_nothing_of_them_by_asking(scene):
    given.a_case(scene)
    act = {"actor": scene.cast.administrator, "at": given.NOW}
    found = what_if.suppose_contest_dates(
        contest=scene.contests["11"],
        days=setting_up.ContestDays(
            given.POLLED, given.COUNTED, given.DECLARED + timedelta(days=90)
        ),
        **act,
    )
    (row,) = [row for row in found.effects.rows if row.containers]
    assert row.before == FREE_FROM


def test_what_could_not_be_entered_is_not_supposed_either(scene):
    with pytest.raises(Mistaken) as mistaken:
        entering(scene, contests=("CT-000099-X",))
    assert list(mistaken.value.errors) == ["contests"]
    with pytest.raises(Mistaken, match="not come yet"):
        recording(scene, "dismissed", given.TODAY + timedelta(days=1))
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    with pytest.raises(NotThere):
        what_if.suppose_event_struck(
            case=Case.objects.get().number,
            event=CaseEvent.objects.get().number,
            actor=stranger,
            at=given.NOW,
        )


def test_the_forms_have_the_step_and_keep_what_was_typed(scene, monkeypatch):
    given.clock_at(monkeypatch, given.NOW)
    case = given.a_case(scene)
    client = given.browser_of(scene.cast.legal)
    address = f"/cases/{case}/event/"
    form = {
        "kind": "dismissed",
        "level": "first",
        "occurred_on": "2026-06-01",
        "paper": "Judgment 4 of 1 June",
    }
    assert "Show what this would change" in client.get(address).content.decode()
    answer = client.post(address, form | {"suppose": "1"})
    told = answer.content.decode()
    assert answer.status_code == 200
    assert "Nothing is saved." in told
    assert "4 containers would become free" in told
    assert "no end → 3 October 2026" in told
    assert 'value="Judgment 4 of 1 June"' in told
    assert CaseEvent.objects.count() == 1
    wrong = client.post(address, form | {"suppose": "1", "occurred_on": "2099-01-01"})
    assert wrong.status_code == 400
    assert "has not come yet" in wrong.content.decode()
    client.post(address, form)
    assert CaseEvent.objects.count() == 2


@pytest.mark.parametrize(
    ("address", "form"),
    [
        ("/cases/new/", {"kind": "writ", "forum": "High Bench", "parties": "A v. B",
          "first_event": "expected", "level": "first", "occurred_on": "2026-11-01",
          "extent": "whole"}),
        ("/orders/new/", {"issued_by": "High Bench", "order_ref": "P 1",
          "dated": "2026-11-01", "from_on": "2026-11-01", "extent": "whole"}),
        ("/contests/{contest}/dates/", {"declared_on": "2026-01-05",
          "source": "Gazette 8"}),
    ],
)  # fmt: skip
def test_every_form_that_moves_an_end_can_be_tried(scene, monkeypatch, address, form):
    given.clock_at(monkeypatch, given.NOW)
    client = given.browser_of(scene.cast.legal)
    saved = nothing_is_saved()
    address = address.format(contest=scene.contests["11"])
    answer = client.post(address, form | {"suppose": "1"})
    assert "Nothing is saved." in answer.content.decode()
    assert nothing_is_saved() == saved
    assert client.post(address, form).status_code == 302


def test_counts_are_those_of_the_same_rules(scene):
    """The supposed answer is the one that the rules give over the same facts."""
    contest = Contest.objects.select_related("election").get(
        number=scene.contests["12"]
    )
    found, _ = entering(scene)
    (row,) = [
        row
        for row in found.effects.rows
        if row.contest_number == contest.number and row.content == "Poll slips"
    ]
    told = Keeper(given.TODAY).contest(contest, ContentKind.POLL_SLIPS)
    assert row.before == row.after == told.may_be_disposed_from
