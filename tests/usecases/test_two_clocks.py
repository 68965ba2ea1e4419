"""Two clocks: the day asked about, and what was known when, on every page and report.

"What happened" and "when it was recorded" are the valid and the transaction time of
Snodgrass, Developing Time-Oriented Database Applications in SQL (1999), from memory.
Expected days are counted by hand from fixtures/schedules/calvenna-3.toml.
"""

import json
from datetime import date, timedelta
from io import BytesIO

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import given as every
from hypothesis import strategies as st

from registry.models import Contest
from registry.queries.keeping import Keeper
from registry.rules.schedules import ContentKind
from registry.usecases import cases, looks, reports, setting_up
from registry.usecases.contests import look_at_contest
from tests import given

pytestmark = pytest.mark.django_db

LONG_AGO = given.NOW - timedelta(days=300)
EARLIER = given.NOW - timedelta(days=20)
LATELY = given.NOW - timedelta(days=3)
SLIPS_KEPT_THROUGH = date(2026, 10, 2)


@pytest.fixture
def scene():
    return given.a_scene(at=LONG_AGO)


def by_the_auditor(scene):
    return {"actor": scene.cast.auditor, "at": given.NOW}


def page(scene, box, **clocks):
    return looks.look_at_box(box=box.number, **clocks, **by_the_auditor(scene))


def report(scene, **clocks):
    out = BytesIO()
    reports.make_retention_report(
        wanted=reports.ReportWanted(**clocks),
        form="json",
        into=lambda: out,
        **by_the_auditor(scene),
    )
    return json.loads(out.getvalue())


def test_a_page_answers_with_what_is_known_now_or_was_known_then(scene):
    """Failure mode 1: a petition entered late; both answers stand side by side."""
    box = given.a_shelved_box(scene, at=LONG_AGO)
    given.a_case(scene, occurred_on=given.DECLARED, at=LATELY)
    day = EARLIER.date()
    now = page(scene, box, as_of=day).retention
    then = page(scene, box, as_of=day, known_at=EARLIER).retention
    assert (now.held_until, now.known_at) == (None, None)
    assert (then.held_until, then.known_at) == (SLIPS_KEPT_THROUGH, EARLIER)
    assert then.as_of == now.as_of == day
    assert page(scene, box, known_at=EARLIER).retention.as_of == day
    assert len(then.picture.bars) < len(now.picture.bars)


def test_a_day_to_come_is_answered_with_what_is_known_now(scene):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    case = given.a_case(scene, occurred_on=given.DECLARED, at=LATELY)
    cases.record_case_event(
        case=case,
        kind="dismissed",
        level="first",
        occurred_on=date(2026, 10, 30),
        paper="Judgment 4",
        actor=scene.cast.legal,
        at=given.NOW,
    )
    # 30 days after 30 October 2026 is Sunday 29 November; the next open day Monday 30.
    assert not page(scene, box, as_of=date(2026, 11, 30)).retention.is_over
    assert page(scene, box, as_of=date(2026, 12, 1)).retention.is_over


def test_a_moment_to_come_stands_for_now(scene):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    later = given.NOW + timedelta(days=9)
    assert page(scene, box, known_at=later).retention.known_at is None


def test_a_container_logged_later_was_not_yet_known(scene):
    box = given.a_shelved_box(scene, at=LATELY)
    told = page(scene, box, known_at=EARLIER).retention
    assert told.state == "not yet in the register"
    assert box.number not in {
        row["number"] for row in report(scene, known_at=EARLIER)["rows"]
    }


def test_a_corrected_declaration_is_known_from_its_correction_on(scene):
    """Failure mode 7."""
    box = given.a_shelved_box(scene, at=LONG_AGO)
    contest = scene.contests["11"]
    setting_up.record_contest_dates(
        contest=contest,
        days=setting_up.ContestDays(
            given.POLLED, given.COUNTED, given.DECLARED + timedelta(days=60)
        ),
        source="Corrected declaration",
        actor=scene.cast.legal,
        at=LATELY,
    )
    asked = {"contest": contest, **by_the_auditor(scene)}
    now = look_at_contest(**asked)
    then = look_at_contest(known_at=EARLIER, **asked)
    assert {n: d for n, _, d in then.dates}["declared_on"] == given.DECLARED
    slips = [one.kept[0].retention.held_until for one in (then, now)]
    assert slips == [SLIPS_KEPT_THROUGH, date(2026, 12, 1)]
    assert page(scene, box, known_at=EARLIER).retention.held_until == slips[0]


def test_cases_of_a_contest_stand_where_they_were_known_to_stand(scene):
    case = given.a_case(scene, occurred_on=given.DECLARED, at=EARLIER)
    cases.record_case_event(
        case=case,
        kind="dismissed",
        level="first",
        occurred_on=EARLIER.date() - timedelta(days=90),
        paper="Judgment 4",
        actor=scene.cast.legal,
        at=LATELY,
    )
    asked = {"contest": scene.contests["11"], **by_the_auditor(scene)}
    told = {
        at: [
            row.stand.standing
            for row in look_at_contest(known_at=at, **asked).legal.cases
        ]
        for at in (EARLIER - timedelta(days=1), EARLIER, None)
    }
    assert list(told.values()) == [[], ["pending"], ["settled"]]


def test_a_report_says_which_knowledge_it_rests_on(scene):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    given.a_case(scene, occurred_on=given.DECLARED, at=LATELY)
    now = report(scene, as_of=EARLIER.date())
    then = report(scene, as_of=EARLIER.date(), known_at=EARLIER)
    assert now["known_at"] == now["made_at"]
    assert then["known_at"] == EARLIER.isoformat()
    assert now["totals"]["by_reason"] == {"case-pending": 2}
    assert then["totals"]["by_reason"] == {"period-over": 2}
    assert {row["number"] for row in then["rows"]} >= {box.number}
    assert {row["whereabouts"] for row in then["rows"]} == {
        row["whereabouts"] for row in now["rows"]
    }


def test_a_report_counts_what_was_disposed_of_later_and_shows_where_it_stood(scene):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    given.a_confirmation(scene, at=given.NOW)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    then = report(scene, known_at=EARLIER)["rows"]
    assert [row["whereabouts"] for row in then] == ["on its shelf", "in its box"]
    assert report(scene)["rows"] == []


def test_pages_ask_by_address_and_say_which_knowledge_counts(scene, monkeypatch):
    given.clock_at(monkeypatch, given.NOW)
    box = given.a_shelved_box(scene, at=LONG_AGO)
    given.a_case(scene, occurred_on=given.DECLARED, at=LATELY)
    client = given.browser_of(scene.cast.auditor)
    asked = f"?as-of={EARLIER:%Y-%m-%d}&known-at={EARLIER:%Y-%m-%d}"
    for address in (f"/boxes/{box.number}/", f"/contests/{scene.contests['11']}/"):
        told = client.get(address + asked).content.decode()
        assert "with what the register knew on" in told, address
        assert "2 October 2026" in told
        assert 'role="img"' in told
        told = client.get(address).content.decode()
        assert "with what the register knew on" not in told
    paper = client.get(f"/containers/{box.number}/reasoning.pdf{asked}")
    assert paper.headers["Content-Type"] == "application/pdf"
    totals = client.get(f"/report/?known_at={EARLIER:%Y-%m-%d}").content.decode()
    assert "period over" in totals
    assert "case pending" not in totals


# --- properties --------------------------------------------------------------------

STEPS = st.sampled_from(["case", "dismissed", "appealed", "order", "strike", "dates"])


def _does(scene, step, at):
    """Enter something at a moment; what cannot be at that moment is left out."""
    act = {"actor": scene.cast.legal, "at": at}
    known = list(cases.Case.objects.order_by("id"))
    on = at.date() - timedelta(days=10)
    if step == "case":
        given.a_case(scene, occurred_on=on, at=at, parties=f"Party of {at}")
    elif step in ("dismissed", "appealed") and known:
        level = "first" if step == "dismissed" else "final"
        cases.record_case_event(
            case=known[-1].number,
            kind=step,
            level=level,
            occurred_on=on,
            paper="P",
            **act,
        )
    elif step == "strike" and known:
        standing = known[-1].events.filter(strikes=None, struck_by=None).last()
        if standing:
            cases.strike_case_event(
                case=known[-1].number,
                event=standing.number,
                because="Error.",
                authority="High Bench",
                **act,
            )
    elif step == "order":
        cases.enter_preservation_order(
            election=scene.election, issued_by="High Bench", order_ref=f"{at}",
            dated=on, from_on=on, until_on=on + timedelta(days=500),
            covers=cases.Covers(contests=(scene.contests["11"],)), **act,
        )  # fmt: skip
    elif step == "dates":
        setting_up.record_contest_dates(
            contest=scene.contests["11"],
            days=setting_up.ContestDays(given.POLLED, given.COUNTED, on),
            source=f"Paper of {at}",
            **act,
        )


def _answer(scene, known_at=None):
    contest = Contest.objects.select_related(
        "election__schedule", "election__calendar"
    ).get(number=scene.contests["11"])
    told = Keeper(given.TODAY, known_at).contest(contest, ContentKind.POLL_SLIPS)
    return told.retain_through, [step.text for step in told.steps]


@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@every(steps=st.lists(STEPS, min_size=1, max_size=5))
def test_as_of_now_equals_replay_and_nothing_is_known_before_its_entry(
    transaction_per_example, steps
):
    """Issue 3: "as-of now equals replay". The register is asked after each entry; what
    it said then is what it says, later, of that moment."""
    with transaction_per_example():
        scene = given.a_scene(at=LONG_AGO)
        said = {LONG_AGO: _answer(scene)}
        at = LONG_AGO
        for step in steps:
            at += timedelta(days=40)
            _does(scene, step, at)
            said[at] = _answer(scene)
        for moment, answer in said.items():
            assert _answer(scene, moment) == answer
            just_before_the_next = moment + timedelta(days=40, microseconds=-1)
            assert _answer(scene, just_before_the_next) == answer
        assert _answer(scene) == _answer(scene, at)


@pytest.fixture
def transaction_per_example(db):
    """Undo what one example entered, since all examples share the test's database."""
    from contextlib import contextmanager

    from django.db import transaction

    @contextmanager
    def undone():
        point = transaction.savepoint()
        try:
            yield
        finally:
            transaction.savepoint_rollback(point)

    return undone
