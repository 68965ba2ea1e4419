"""Why one container is kept until when: the reasoning, step by step, on paper."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.rules.pictures import TimelinePicture
from registry.rules.steps import Step
from registry.rules.wording import shown


@dataclass(frozen=True)
class Reasoning:
    """One container's retention as of a day.

    Attributes:
        known_at: the moment whose knowledge counts; None for what is known now.
        summary: the answer in a sentence.
        retain_through: the last day of keeping; None where there is no end.
        steps: as the rule gave them; one of them decides.
        schedule_text: which schedule, version and law.
        calendar_text: whose closed days were counted.
        picture: the time of keeping as a drawing; None where nothing has a date.
    """

    number: str
    noun: str
    content_title: str
    election: str
    constituency: str
    station: str
    as_of: date
    summary: str
    retain_through: date | None
    may_be_disposed_from: date | None
    steps: tuple[Step, ...]
    schedule_text: str
    calendar_text: str
    made_at: datetime
    made_by: str
    known_at: datetime | None = None
    picture: TimelinePicture | None = None


def reasoning_pdf(reasoning: Reasoning) -> bytes:
    """Return one container's retention reasoning as a PDF."""
    facts = (
        ("Container", f"{reasoning.noun}: {reasoning.content_title}"),
        ("Election", reasoning.election),
        ("Constituency", reasoning.constituency),
        ("Polling station", reasoning.station or "none"),
        ("Reckoned as of", shown(reasoning.as_of)),
        ("With what was known", _knowledge(reasoning.known_at)),
        ("Kept through", _day_or_keep(reasoning.retain_through)),
        ("Disposal not before", _day_or_keep(reasoning.may_be_disposed_from)),
        ("Schedule", reasoning.schedule_text),
        ("Closed days", reasoning.calendar_text),
    )
    paper = Paper(
        template="documents/reasoning.html",
        facts={
            "kind": "How long this container is kept, and why",
            "number": reasoning.number,
            "reasoning": reasoning,
            "picture": reasoning.picture,
            "facts": facts,
        },
        title=f"Retention reasoning for {reasoning.number}",
        made_at=reasoning.made_at,
        made_by=reasoning.made_by,
    )
    return render(paper)


def _knowledge(known_at: datetime | None) -> str:
    return written_moment(known_at) if known_at else "when this paper was made"


def _day_or_keep(day: date | None) -> str:
    return shown(day) if day else "no end date: keep"
