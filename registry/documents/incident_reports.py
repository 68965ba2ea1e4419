"""The report of an incident to the authority: a draft, to be read, signed and sent."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render


@dataclass(frozen=True)
class TouchedContainer:
    """A container that the incident touches, and why it must be kept."""

    number: str
    title: str
    place: str
    seals: str
    condition: str
    kept: str


@dataclass(frozen=True)
class IncidentReport:
    """An incident, as it is reported.

    Attributes:
        to: who ordained the schedule, and so gives directions.
        hidden: how many containers it touches that the writer may not see.
        steps: what was done since, each with its day and its word.
    """

    number: str
    to: str
    kind: str
    what: str
    room: str
    whole_room: bool
    occurred_at: datetime | None
    noticed_at: datetime
    noticed_by: str
    recorded_at: datetime
    recorded_by: str
    owner: str
    due_on: date
    containers: tuple[TouchedContainer, ...]
    steps: tuple[tuple[date, str, str], ...]
    made_at: datetime
    made_by: str
    hidden: int = 0


def incident_report_pdf(report: IncidentReport) -> bytes:
    """Return the report of an incident as a PDF, with lines for two signatures."""
    happened = report.occurred_at
    facts = (
        ("To", report.to),
        ("What went wrong", report.kind[:1].upper() + report.kind[1:]),
        ("Where", report.room),
        ("Happened", written_moment(happened) if happened else "not known"),
        ("Noticed", f"{written_moment(report.noticed_at)}, by {report.noticed_by}"),
        ("Entered", f"{written_moment(report.recorded_at)}, by {report.recorded_by}"),
        ("Followed up by", report.owner),
    )
    paper = Paper(
        template="documents/incident_report.html",
        facts={
            "kind": "Report of an incident",
            "number": report.number,
            "report": report,
            "facts": facts,
            "signers": (
                f"Custodian: {report.made_by}",
                "Second person present (name and post)",
            ),
        },
        title=f"Report of incident {report.number}",
        made_at=report.made_at,
        made_by=report.made_by,
    )
    return render(paper)
