"""Held until when, and why: over records that were entered as people enter them.

All periods are those of the invented country's schedule (fixtures/schedules/
calvenna-3.toml): a petition within 45 days after the declaration, moved to the next
open day (rule 8(1)); slips kept for twelve months after it (rule 9(1)); an appeal
within 30 days, moved likewise (rule 10(1)). Expected days are counted by hand.
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from registry.models import Box, Contest, Envelope, PollingStation
from registry.queries.keeping import Keeper
from registry.queries.kept_totals import totals
from registry.rules.retention import Reason
from registry.rules.schedules import ContentKind
from registry.usecases import cases, confirmations, looks, setting_up
from registry.usecases.case_looks import look_at_case
from tests import given

pytestmark = pytest.mark.django_db

# Declared on Thursday 2 October 2025: twelve months on is Friday 2 October 2026.
SLIPS_KEPT_THROUGH = date(2026, 10, 2)


@pytest.fixture
def scene():
    return given.a_scene()


def a_box_of(scene, *stations, constituency=("11", "Harbour Reach"), label="1 of 1"):
    """A box with one envelope of poll slips of each of these stations."""
    number = given.logged(
        scene,
        given.an_open_box(constituency, stations=", ".join(stations), label=label),
    ).number
    names = {
        "11/001": "Customs Quay School",
        "11/002": "Net Loft Hall",
        "12/001": "Peat Works Canteen",
        "12/002": "Heron School",
    }
    for station in stations:
        units = f"{constituency[0]}{station}"
        logged = given.logged(
            scene,
            given.an_envelope_on_the_table(
                station,
                constituency,
                names[f"{constituency[0]}/{station}"],
                f"CU-{units}",
                f"PT-AA-{units}",
                seal=f"W-{units}",
            ),
            box=number,
        )
        assert logged.box == number, logged
    return number


def kept(scene, box, on=given.TODAY):
    """How long the box is kept, as its page says on a day."""
    return looks.look_at_box(
        box=box, as_of=on, actor=scene.cast.auditor, at=given.NOW
    ).retention


def held_until(scene, box, on=given.TODAY):
    return kept(scene, box, on).held_until


def happened(scene, case, kind, on, level="first", at=given.NOW):
    """Something that happened in the case, recorded by the legal cell."""
    return cases.record_case_event(
        case=case,
        kind=kind,
        level=level,
        occurred_on=on,
        paper=f"Paper of {on}",
        actor=scene.cast.legal,
        at=at,
    )


def by_the_legal_cell(scene):
    return {"actor": scene.cast.legal, "at": given.NOW}


def test_without_a_case_the_schedule_governs(scene):
    box = a_box_of(scene, "001")
    assert held_until(scene, box) == SLIPS_KEPT_THROUGH
    assert kept(scene, box).is_over, "2 November 2026 is after 2 October 2026"


def test_an_unknown_declaration_means_keep():
    scene = given.a_scene(declared_on=None)
    retention = kept(scene, a_box_of(scene, "001"))
    assert retention.held_until is None
    assert not retention.is_over
    assert "no date is known" in " ".join(step.text for step in retention.steps)


def test_the_window_rolls_over_days_closed_by_notification(scene):
    """45 days after 2 October 2025 is Sunday 16 November; the Registry is closed on
    Sundays, then from Monday 17 to Friday 28 November by notification, then on the
    weekend: the next open day is Monday 1 December."""
    contest = Contest.objects.get(number=scene.contests["11"])
    plain = Keeper(given.TODAY).contest(contest, ContentKind.POLL_SLIPS)
    assert plain.confirm_through == date(2025, 11, 17)
    setting_up.record_closed_days(
        calendar=contest.election.calendar.number,
        first_day=date(2025, 11, 17),
        last_day=date(2025, 11, 28),
        reason="Autumn vacation",
        notification="HB/N/3",
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    rolled = Keeper(given.TODAY).contest(contest, ContentKind.POLL_SLIPS)
    assert rolled.confirm_through == date(2025, 12, 1)
    told = " ".join(step.text for step in rolled.steps)
    assert "Autumn vacation" in told
    assert "HB/N/3" in told


def test_a_petition_heard_of_holds_the_whole_constituency_and_no_other(scene):
    here = a_box_of(scene, "001")
    beside = a_box_of(scene, "002", label="2 of 2")
    elsewhere = a_box_of(scene, "001", constituency=("12", "Quillmoor"))
    given.a_case(scene, occurred_on=given.TODAY)
    assert held_until(scene, here) is None
    assert held_until(scene, beside) is None
    assert held_until(scene, elsewhere) == SLIPS_KEPT_THROUGH


def test_a_narrowed_petition_lets_other_stations_go_but_no_box_with_one_of_its_own(
    scene,
):
    only = a_box_of(scene, "001")
    case = given.a_case(scene)
    cases.change_case_scope(
        case=case,
        covers=cases.Covers(
            stations=("11/002",), because="Names one station.", authority="HB order 3"
        ),
        **by_the_legal_cell(scene),
    )
    assert held_until(scene, only) == SLIPS_KEPT_THROUGH
    mixed = a_box_of_001_and_002_beside(scene, only)
    assert held_until(scene, mixed) is None
    envelopes = Box.objects.get(number=mixed).envelopes.order_by("station_id")
    keeper = Keeper(given.TODAY)
    assert [keeper.envelope(each).retain_through for each in envelopes] == [
        SLIPS_KEPT_THROUGH,
        None,
    ]


def a_box_of_001_and_002_beside(scene, box):
    """The same box, with an envelope of station 002 put to that of station 001."""
    given.logged(
        scene,
        given.an_envelope_on_the_table(
            "002", name="Net Loft Hall", control_unit="CU-11002",
            paper_trail_unit="PT-AA-11002", seal="W-0002",
        ),
        box=box,
    )  # fmt: skip
    return box


def test_a_box_whose_contents_are_not_known_is_held_by_any_station(scene):
    empty = given.logged(scene, given.an_open_box(stations="001")).number
    given.a_case(
        scene,
        covers=cases.Covers(
            stations=("11/002",), because="Names one station.", authority="HB order 3"
        ),
    )
    assert held_until(scene, empty) is None


def test_what_is_entered_late_counts_from_when_it_happened(scene):
    """Failure mode 1: filed on the last day, entered long afterwards."""
    box = a_box_of(scene, "001")
    filed_on = date(2025, 11, 17)
    case = given.a_case(scene, occurred_on=filed_on, first_event="filed")
    before, since = filed_on - timedelta(days=1), filed_on
    assert held_until(scene, box, before) == SLIPS_KEPT_THROUGH
    assert held_until(scene, box, since) is None
    (event,) = look_at_case(case=case, actor=scene.cast.auditor, at=given.NOW).events
    assert event.occurred_on == filed_on
    assert event.recorded_at == given.NOW
    assert event.days_late == (given.TODAY - filed_on).days


def test_lateness_is_counted_in_days_of_the_electionss_own_zone():
    """A case heard of on 2 November in a country ten hours ahead of UTC is entered
    there on that same day, though it is still 1 November in UTC."""
    scene = given.a_scene()
    election = Contest.objects.get(number=scene.contests["11"]).election
    assert election.legal_zone == "UTC"
    setting_up.set_up_election(
        code="east",
        name="Eastern Election of Calvenna",
        schedule=election.schedule.number,
        calendar=election.calendar.number,
        legal_zone="Etc/GMT-10",
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    east = election.__class__.objects.get(code="east").number
    lawyer = given.appointed(
        scene.cast.administrator, "east.law", given.Role.LEGAL, elections=(east,)
    )
    at = datetime(2026, 11, 1, 15, 0, tzinfo=UTC)
    case = cases.enter_case(
        election=east,
        kind="writ",
        forum="High Bench of Calvenna",
        parties="Moss v. the Electoral Steward",
        covers=cases.Covers(whole_election=True),
        occurred_on=date(2026, 11, 2),
        actor=lawyer,
        at=at,
    )
    file = look_at_case(case=case, actor=lawyer, at=at)
    assert file.events[0].days_late == 0
    assert "the register learnt of it" not in " ".join(
        step.text for step in file.row.stand.steps
    )


def test_a_dismissed_petition_holds_until_the_appeal_window_is_over(scene):
    """30 days after Friday 2 October 2026 is Sunday 1 November; the next open day is
    Monday 2 November, which is still kept."""
    box = a_box_of(scene, "001")
    case = given.a_case(scene)
    happened(scene, case, "dismissed", date(2026, 10, 2))
    retention = kept(scene, box)
    assert retention.held_until == date(2026, 11, 2)
    assert not retention.is_over
    assert kept(scene, box, date(2026, 11, 3)).is_over


def test_appeal_remand_and_final_disposal(scene):
    box = a_box_of(scene, "001")
    later = datetime(2027, 6, 1, 10, 0, tzinfo=UTC)
    case = given.a_case(scene)

    def then(kind, on, level="first"):
        happened(scene, case, kind, on, level, at=later)
        return held_until(scene, box, on)

    assert then("dismissed", date(2026, 11, 3)) == date(2026, 12, 3)
    assert then("appealed", date(2026, 12, 1), "final") is None
    assert then("allowed", date(2027, 1, 12), "final") is not None
    assert then("remanded", date(2027, 1, 12)) is None
    # 30 days after Monday 1 March 2027 is Wednesday 31 March.
    assert then("finally-disposed-of", date(2027, 3, 1)) == date(2027, 3, 31)
    assert kept(scene, box, date(2027, 4, 1)).is_over


def test_an_appeal_filed_after_settlement_holds_again(scene):
    """Failure mode 11."""
    box = a_box_of(scene, "001")
    case = given.a_case(scene)
    happened(scene, case, "dismissed", date(2026, 8, 3))
    assert kept(scene, box).is_over
    happened(scene, case, "appealed", date(2026, 10, 30), "final")
    assert held_until(scene, box) is None


def test_leave_to_withdraw_that_is_only_asked_for_changes_nothing(scene):
    """Failure mode 14."""
    box = a_box_of(scene, "001")
    case = given.a_case(scene)
    happened(scene, case, "withdrawal-sought", date(2026, 6, 1))
    assert held_until(scene, box) is None


def test_a_struck_dismissal_lets_nothing_go(scene):
    """Failure mode 22: settled by mistake; the reversal counts at once."""
    box = a_box_of(scene, "001")
    case = given.a_case(scene)
    event = happened(scene, case, "dismissed", date(2026, 8, 3))
    assert kept(scene, box).is_over
    cases.strike_case_event(
        case=case, event=event, because="Of EP 8.", **by_the_legal_cell(scene)
    )
    assert held_until(scene, box) is None
    struck = look_at_case(case=case, **by_the_legal_cell(scene)).events[-1]
    assert struck.is_struck
    assert struck.struck_because == "Of EP 8."


def an_order(scene, until_on=None, from_on=date(2026, 9, 1), **covers):
    wanted = covers or {"contests": (scene.contests["11"],)}
    return cases.enter_preservation_order(
        election=scene.election,
        issued_by="High Bench of Calvenna",
        order_ref="HB/P/4",
        dated=date(2026, 9, 1),
        from_on=from_on,
        until_on=until_on,
        covers=cases.Covers(**wanted),
        **by_the_legal_cell(scene),
    )


def test_an_order_without_an_end_holds_until_it_is_lifted(scene):
    box = a_box_of(scene, "001")
    order = an_order(scene)
    assert held_until(scene, box) is None
    cases.lift_preservation_order(
        order=order,
        lifted_on=given.TODAY,
        lifted_by_order="HB/P/9",
        **by_the_legal_cell(scene),
    )
    assert held_until(scene, box) == given.TODAY, "the day of lifting is still kept"
    assert kept(scene, box, given.TODAY + timedelta(days=1)).is_over


def test_an_order_with_an_end_holds_through_that_day(scene):
    box = a_box_of(scene, "001")
    an_order(scene, until_on=date(2027, 1, 15))
    assert held_until(scene, box) == date(2027, 1, 15)


def test_a_case_may_challenge_several_contests_or_the_whole_election(scene):
    one = a_box_of(scene, "001")
    other = a_box_of(scene, "001", constituency=("12", "Quillmoor"))
    both = cases.Covers(contests=tuple(scene.contests.values()))
    first = given.a_case(scene, covers=both)
    assert held_until(scene, one) is None
    assert held_until(scene, other) is None
    happened(scene, first, "dismissed", date(2026, 6, 1))
    assert kept(scene, other).is_over
    given.a_case(scene, covers=cases.Covers(whole_election=True))
    assert held_until(scene, one) is None
    assert held_until(scene, other) is None


def test_a_case_of_which_nobody_knows_what_it_challenges_holds_everything(scene):
    """Failure mode 19: what it names is not clear, so all of it is held."""
    boxes = [
        a_box_of(scene, "001"),
        a_box_of(scene, "001", constituency=("12", "Quillmoor")),
    ]
    case = given.a_case(scene, covers=cases.Covers(not_known=True))
    assert [held_until(scene, box) for box in boxes] == [None, None]
    assert look_at_case(case=case, **by_the_legal_cell(scene)).not_known


def test_settlement_of_one_case_does_not_settle_another(scene):
    """Failure mode 18."""
    box = a_box_of(scene, "001")
    first = given.a_case(scene)
    given.a_case(scene, parties="Rill v. Returning Officer")
    happened(scene, first, "dismissed", date(2026, 6, 1))
    assert held_until(scene, box) is None


@pytest.mark.parametrize(
    "acts",
    [
        [("heard-of", {})],
        [("heard-of", {"not_known": True})],
        [("heard-of", {}), ("dismissed", "first")],
        [("heard-of", {}), ("dismissed", "final")],
        [("heard-of", {}), ("finally-disposed-of", "first")],
        [("filed", {}), ("withdrawn", "first"), ("abated", "first")],
        [("filed", {}), ("dismissed-for-default", "first"), ("restored", "first")],
        [("filed", {}), ("dismissed", "first"), ("heard-of", {})],
    ],
)
def test_adding_a_case_never_shortens(scene, acts):
    """Whatever is entered about new cases, in whatever state they are."""
    box = a_box_of(scene, "001")
    for on in (date(2025, 12, 1), date(2026, 10, 2), given.TODAY):
        assert _at_least(held_until(scene, box, on), SLIPS_KEPT_THROUGH)
    case, day = "", date(2026, 5, 4)
    for kind, more in acts:
        before = {on: held_until(scene, box, on) for on in _days()}
        if kind in ("heard-of", "filed"):
            covers = more or {"contests": (scene.contests["11"],)}
            case = given.a_case(
                scene,
                first_event=kind,
                occurred_on=day,
                covers=cases.Covers(**covers),
            )
            assert all(
                _at_least(held_until(scene, box, on), was) for on, was in before.items()
            )
        else:
            happened(scene, case, kind, day, more)
        for on in _days():
            assert _at_least(held_until(scene, box, on), SLIPS_KEPT_THROUGH)
        day += timedelta(days=20)


def _days():
    return [date(2026, month, 15) for month in range(4, 11)]


def _at_least(now, was):
    """No end is later than any day."""
    return (now or date.max) >= (was or date.max)


def test_a_withdrawn_confirmation_no_longer_counts(scene):
    given.a_confirmation(scene)
    contest = Contest.objects.get(number=scene.contests["11"])
    paper = contest.confirmations.get()
    confirmations.withdraw_confirmation(
        contest=contest.number,
        confirmation=paper.number,
        withdrawn_on=given.TODAY,
        because="A petition was found in another registry.",
        **by_the_legal_cell(scene),
    )
    from registry.queries.keeping import confirmation_for

    assert confirmation_for(contest, given.TODAY) is None
    assert confirmation_for(contest, given.TODAY - timedelta(days=1)) is not None


def test_a_box_that_names_more_stations_than_it_is_known_to_hold_is_held_by_all(scene):
    """Unknown means keep: its label says 001 and 002, one envelope is on record."""
    box = given.logged(scene, given.an_open_box(stations="001, 002")).number
    given.logged(scene, given.an_envelope_on_the_table(), box=box)
    other = PollingStation.objects.get(
        contest__number=scene.contests["11"], station_number="002"
    )
    given.a_case(
        scene,
        covers=cases.Covers(
            stations=(other.number,), because="One booth.", authority="High Bench"
        ),
    )
    of = Box.objects.get(number=box)
    keeper = Keeper(given.TODAY)
    assert keeper.box(of).reason is Reason.CASE_PENDING
    counted = totals(keeper, Box.objects.all(), Envelope.objects.none())
    assert counted[Reason.CASE_PENDING.value] == 1
