"""The shapes in which pages get boxes and envelopes: facts, nothing to look up."""

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from registry.models import ContainerState
from registry.queries.timeline import TimelineEntry
from registry.rules.custody_facts import Chain
from registry.rules.markings import Finding
from registry.rules.pictures import TimelinePicture
from registry.rules.retention import Reason, Retention


@dataclass(frozen=True)
class StepShown:
    """One step of a reasoning, as a page shows it."""

    date: date | None
    text: str
    clause: str
    decides: bool


@dataclass(frozen=True)
class RetentionShown:
    """A retention, as pages show it; ``held_until`` None means kept without an end."""

    held_until: date | None
    free_from: date | None
    why: str
    steps: tuple[StepShown, ...]
    as_of: date
    state: str
    tone: str
    reason: str
    is_over: bool
    known_at: datetime | None = None
    picture: TimelinePicture | None = None


def not_yet_known(as_of: date, known_at: datetime) -> RetentionShown:
    """Return the answer about a container of which the register did not know yet."""
    return replace(
        shown(None, as_of),
        why="It was not yet in the register at that moment.",
        state="not yet in the register",
        tone="plain",
        known_at=known_at,
    )


def shown(retention: Retention | None, as_of: date) -> RetentionShown:
    """Return a retention as pages show it; what is not known is kept."""
    if retention is None:
        return RetentionShown(
            held_until=None,
            free_from=None,
            why="It is not known which contest this container stands for, so it is "
            "kept.",
            steps=(),
            as_of=as_of,
            state="kept",
            tone="stop",
            reason=Reason.UNKNOWN_INPUT.value,
            is_over=False,
        )
    over = retention.is_over
    endless = retention.retain_through is None
    return RetentionShown(
        held_until=retention.retain_through,
        free_from=retention.may_be_disposed_from,
        why=retention.summary,
        steps=tuple(
            StepShown(
                step.date,
                step.text,
                str(step.facts.get("clause", "")),
                step.decides,
            )
            for step in retention.steps
        ),
        as_of=retention.as_of,
        state="time of keeping over" if over else "kept",
        tone="clear" if over else ("stop" if endless else "wait"),
        reason=retention.reason.value,
        is_over=over,
        known_at=retention.known_at,
    )


@dataclass(frozen=True)
class SealRow:
    """A seal with its last event."""

    number: str
    kind: str
    maker: str
    serial: str
    signed: bool | None
    state: str
    tone: str
    last: str
    supersedes: str = ""


@dataclass(frozen=True)
class DiscrepancyRow:
    """A discrepancy, open or resolved.

    Attributes:
        container: the register number under which it is shown: of a container, or of
            the contest or the room where no container is on record.
        about: what it is about, in plain words.
        is_overdue: open past its day.
    """

    number: str
    kind: str
    container: str
    marking: str
    written: str
    expected: str
    detail: str
    opened_at: datetime
    resolved_at: datetime | None
    resolution: str
    resolved_by: str = ""
    about: str = ""
    owner: str = ""
    due_on: date | None = None
    is_overdue: bool = False

    @property
    def container_noun(self) -> str:
        """What it is of: a box, an envelope, a contest or a room."""
        nouns = {"EN": "envelope", "CT": "contest", "RM": "room"}
        return nouns.get(self.container[:2], "box")


@dataclass(frozen=True)
class MovementRow:
    """One movement of a container."""

    number: str
    act: str
    occurred_at: datetime
    recorded_at: datetime
    from_place: str
    to_place: str
    from_person: str
    to_person: str
    note: str


@dataclass(frozen=True)
class CoverRow:
    """One of the envelopes or boxes in which a content lay, one after another."""

    number: str
    noun: str
    state: str
    tone: str
    sealed_on: date | None
    is_this: bool


@dataclass(frozen=True)
class ContainerRow:
    """A container in a list."""

    number: str
    noun: str
    content: str
    label: str
    constituency: str
    station: str
    state: str
    state_title: str
    tone: str
    whereabouts: str
    box: str
    shelf: str
    held_until: date | None
    kept_because: str
    open_discrepancies: int


@dataclass(frozen=True)
class ContainerFile:
    """Everything a container's page shows."""

    number: str
    noun: str
    title: str
    kind: str
    content: str
    state: str
    state_title: str
    tone: str
    election: str
    election_number: str
    contest: str
    contest_number: str
    station: str
    unit_set: str
    box: str
    room: str
    room_number: str
    shelf: str
    whereabouts: str
    is_closed: bool
    is_present: bool
    closed_on: date | None
    sealed_on: date | None
    received_on: date
    declared_on: date | None
    polled_on: date | None
    counted_on: date | None
    slip_count: int | None
    self_test_count: int | None
    gross_weight_kg: Any
    label: str
    description: str
    remarks: str
    intake: str
    findings: tuple[Finding, ...]
    seals: tuple[SealRow, ...]
    discrepancies: tuple[DiscrepancyRow, ...]
    movements: tuple[MovementRow, ...]
    contents: tuple[ContainerRow, ...]
    retention: RetentionShown
    permissions: tuple[tuple[str, str], ...]
    timeline: tuple[TimelineEntry, ...] = field(default=())
    custody: Chain | None = None
    covers: tuple[CoverRow, ...] = ()

    @property
    def successor(self) -> str:
        """The number of the one in which the content lies now; empty for this one."""
        last = self.covers[-1] if self.covers else None
        return last.number if last and not last.is_this else ""

    @property
    def open_discrepancies(self) -> tuple[DiscrepancyRow, ...]:
        """Those that are not resolved."""
        return tuple(d for d in self.discrepancies if d.resolved_at is None)


TONES = {
    ContainerState.HELD: "plain",
    ContainerState.QUARANTINED: "stop",
    ContainerState.SUPERSEDED: "ended",
    ContainerState.DISPOSED: "ended",
}
