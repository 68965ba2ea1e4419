"""The words and shapes of a chain of custody."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from registry.rules.disposal_facts import as_compared


class Move(StrEnum):
    """What a movement did; the same words as the register's."""

    RECEIVED = "received"
    BOXED = "boxed"
    SHELVED = "shelved"
    MOVED = "moved"
    HANDED_OVER = "handed-over"
    TAKEN_OUT = "taken-out"
    RETURNED = "returned"
    KEPT = "kept"
    DESPATCHED = "despatched"
    TAKEN_OVER = "taken-over"
    REPLACED = "replaced"
    NOT_FOUND = "not-found"
    FOUND = "found"
    DISPOSED = "disposed"


@dataclass(frozen=True)
class MoveFact:
    """One movement of a container or of a box it lay in.

    Attributes:
        number: the movement's; ``seq`` its place among those of one moment.
        of: the number of the container that was moved.
        recorder: who entered it; empty for a terminal.
        into: for an envelope put into a box, or found in it again, that box.
        expected_back: for one taken out, by when it was to be back.
    """

    number: str
    seq: int
    of: str
    act: Move
    at: datetime
    recorded_at: datetime
    recorder: str = ""
    from_person: str = ""
    to_person: str = ""
    from_place: str = ""
    to_place: str = ""
    into: str = ""
    expected_back: datetime | None = None

    @property
    def key(self) -> tuple[datetime, int]:
        """By what movements are ordered: when it happened, then as entered."""
        return self.at, self.seq


@dataclass(frozen=True)
class ChargeEnded:
    """A person who had charge of a room had it no longer from a moment on."""

    name: str
    since: datetime
    until: datetime | None = None


class CustodyFault(StrEnum):
    """What a chain of custody can lack."""

    NOT_RECEIVED = "not-received"
    NO_NAME = "no-name"
    MISSING = "missing"
    ON_WAY = "on-way"
    NO_RECEIVER = "no-receiver"
    NOT_HOLDER = "not-holder"
    OVERLAP = "overlap"
    OVERDUE = "overdue"
    RECORDED_LATE = "recorded-late"
    CHARGE_ENDED = "charge-ended"


FAULT_TITLES = {
    CustodyFault.NOT_RECEIVED: "nobody recorded between sealing and receipt",
    CustodyFault.NO_NAME: "received without a person's name",
    CustodyFault.MISSING: "missing",
    CustodyFault.ON_WAY: "on the way, no carrier named",
    CustodyFault.NO_RECEIVER: "given to nobody by name",
    CustodyFault.NOT_HOLDER: "given by somebody who was not its holder",
    CustodyFault.OVERLAP: "in two people's charge at once",
    CustodyFault.OVERDUE: "out past its expected return",
    CustodyFault.RECORDED_LATE: "entered more than 24 hours late",
    CustodyFault.CHARGE_ENDED: "held by somebody whose charge of the room had ended",
}


@dataclass(frozen=True)
class Stretch:
    """A span of time in one person's charge, or in one named gap.

    Attributes:
        holder: empty in a gap.
        by: the movement that began it; empty for the time before the first.
        act: what that movement did.
        box: the box it lay in meanwhile.
    """

    start: datetime
    end: datetime
    holder: str
    gap: CustodyFault | None
    place: str
    by: str = ""
    act: Move | None = None
    box: str = ""


@dataclass(frozen=True)
class Finding:
    """One thing that the chain lacks, from when until when, in a sentence."""

    fault: CustodyFault
    start: datetime
    end: datetime
    text: str
    by: str = ""

    @property
    def title(self) -> str:
        """The fault in a few words."""
        return FAULT_TITLES[self.fault]


@dataclass(frozen=True)
class Chain:
    """A container's whole chain of custody; ``ended`` where it was disposed of."""

    stretches: tuple[Stretch, ...]
    findings: tuple[Finding, ...]
    ended: bool

    @property
    def now(self) -> Stretch | None:
        """The stretch that has not ended; None where it was disposed of."""
        return None if self.ended or not self.stretches else self.stretches[-1]

    @property
    def is_whole(self) -> bool:
        """Whether nothing is lacking."""
        return not self.findings

    def at(self, moment: datetime) -> Stretch | None:
        """Return the stretch in which a moment lies."""
        return next((s for s in self.stretches if s.start <= moment < s.end), None)


def same_name(one: str, other: str) -> bool:
    """Tell whether two writings name one person; a post after a comma is left out."""
    heads = (as_compared(name.partition(",")[0]) for name in (one, other))
    return len(set(heads)) == 1
