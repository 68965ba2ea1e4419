"""The door log of a strong room, from one day through another, for signature."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.rules.wording import shown


@dataclass(frozen=True)
class LoggedPerson:
    """Somebody who was in the room; ``until`` None where nobody wrote it down."""

    name: str
    since: datetime
    until: datetime | None
    escort: str


@dataclass(frozen=True)
class LoggedOpening:
    """One opening of the door; moments bear their zone.

    Attributes:
        confirmed: what is on record of the second holder's word.
        compared: the seals found, against those of the closing before.
        signs: what stands out, in sentences.
    """

    number: str
    opened_at: datetime
    closed_at: datetime | None
    purpose: str
    permission: str
    first: str
    second: str
    confirmed: str
    seals_found: str
    compared: str
    seals_put_on: str
    camera: str
    done: str
    waste: str
    present: tuple[LoggedPerson, ...]
    signs: tuple[str, ...]


@dataclass(frozen=True)
class DoorLog:
    """The door log of one room.

    Attributes:
        keys: who holds which key when it is printed.
        behind_closed_door: movements on its shelves while no door was open.
    """

    room: str
    number: str
    first_day: date
    last_day: date
    openings: tuple[LoggedOpening, ...]
    keys: tuple[str, ...]
    behind_closed_door: tuple[str, ...]
    made_at: datetime
    made_by: str


def door_log_pdf(log: DoorLog) -> bytes:
    """Return a door log as a PDF, with lines for the signatures.

    Raises ValueError where the last day is before the first.
    """
    if log.last_day < log.first_day:
        raise ValueError("The last day of a door log is before its first.")
    facts = (
        ("Strong room", log.room),
        ("From", shown(log.first_day)),
        ("Through", shown(log.last_day)),
        ("Openings", str(len(log.openings))),
        ("That stand out", str(sum(bool(one.signs) for one in log.openings))),
        ("Keys when printed", "; ".join(log.keys) or "none on record"),
    )
    rows = [
        (
            one,
            written_moment(one.opened_at),
            written_moment(one.closed_at) if one.closed_at else "not closed",
            [
                (who, f"{who.since:%H:%M}", f"{who.until:%H:%M}" if who.until else "?")
                for who in one.present
            ],
        )
        for one in log.openings
    ]
    paper = Paper(
        template="documents/door_log.html",
        facts={
            "kind": "Door log",
            "number": log.number,
            "facts": facts,
            "rows": rows,
            "behind": log.behind_closed_door,
            "signers": (
                "First key holder",
                "Second key holder",
                "Custodian",
                "Seen by the inspecting officer",
            ),
        },
        title=f"Door log {log.room}, {shown(log.first_day)} to {shown(log.last_day)}",
        made_at=log.made_at,
        made_by=log.made_by,
    )
    return render(paper)
