"""One container's reasoning, as a person can follow it on paper."""

from dataclasses import replace
from datetime import date

from registry.documents.moments import written_moment
from registry.documents.reasoning import Reasoning, reasoning_pdf
from registry.rules.pictures import retention_picture
from registry.rules.retention import retention_of
from registry.rules.steps import Step
from tests.documents.papers import AT, ELECTION, text_of
from tests.rules.calvenna import HIGH_BENCH, SCHEDULE, slips

CLAUSE = {"clause": "rule 14(2)", "source": "Sealed Papers Rules"}
STEPS = (
    Step(
        date(2026, 2, 19),
        "term.trigger",
        {
            "contest": "12 Quillmoor",
            "event": "result declared",
            "on": date(2026, 2, 19),
            "term": "petition window",
            **CLAUSE,
        },
    ),
    Step(
        date(2026, 4, 5),
        "term.ends",
        {"term": "petition window", "through": date(2026, 4, 5), **CLAUSE},
        decides=True,
    ),
    Step(None, "period.no-closed-days"),
)
REASONING = Reasoning(
    number="EN-000121-4",
    noun="Envelope",
    content_title="Poll slips",
    election=ELECTION,
    constituency="12 Quillmoor",
    station="017A",
    as_of=date(2026, 3, 5),
    summary="Keep through 5 April 2026: petition window runs until then.",
    retain_through=date(2026, 4, 5),
    may_be_disposed_from=date(2026, 4, 6),
    steps=STEPS,
    schedule_text="calvenna, version 3",
    calendar_text="High Bench of Calvenna, 2026",
    made_at=AT,
    made_by="A. Hale",
)


def test_every_step_is_printed_with_its_date_and_clause():
    text = text_of(reasoning_pdf(REASONING))
    for step in STEPS:
        assert step.text in text
    assert "1 19 February 2026 12 Quillmoor: result declared" in text
    assert text.count("rule 14(2), Sealed Papers Rules") >= 2


def test_one_step_is_marked_as_the_one_that_decides():
    text = text_of(reasoning_pdf(REASONING))
    before, after = text.split("This step decides")
    assert before.endswith("keep through 5 April 2026. ")
    assert STEPS[2].text in after


def test_the_answer_stands_first_with_the_note():
    text = text_of(reasoning_pdf(REASONING))
    assert REASONING.summary in text
    assert "Reckoned as of 5 March 2026" in text
    assert "Disposal not before 6 April 2026" in text
    assert "The statute, the court and counsel decide" in text


def test_no_end_is_printed_as_keep():
    kept = replace(REASONING, retain_through=None, may_be_disposed_from=None)
    assert text_of(reasoning_pdf(kept)).count("no end date: keep") == 2


def test_the_drawing_stands_on_paper_with_the_same_in_words():
    retention = retention_of(slips(), SCHEDULE, HIGH_BENCH, date(2026, 8, 1))
    picture = retention_picture(retention)
    plain = reasoning_pdf(REASONING)
    drawn = reasoning_pdf(replace(REASONING, picture=picture))
    text = text_of(drawn)
    assert "The time of keeping" in text
    assert "The time of keeping" not in text_of(plain)
    for bar in picture.bars:
        assert text.count(bar.label) >= 2, "once in the drawing, once in words"
        assert f"to {bar.through:%-d %B %Y}" in text


def test_the_paper_says_whose_knowledge_it_rests_on():
    text = text_of(reasoning_pdf(replace(REASONING, known_at=AT)))
    assert f"With what was known {written_moment(AT)}" in text
    assert "With what was known when this paper was made" in text_of(
        reasoning_pdf(REASONING)
    )
