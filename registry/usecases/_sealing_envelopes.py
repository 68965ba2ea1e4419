"""From the answers of the sealing table to the containers that intake takes in."""

from datetime import date

from registry.models import PollingStation, UnitSet
from registry.queries.expected import ExpectedContainers, Match, required_markings
from registry.queries.sealings import AtTable
from registry.rules.arrivals import Arrival, SealEntry, SealKind
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import Asked, SealingFact
from registry.rules.markings import Marking
from registry.rules.sealing import NOT_KNOWN, Unit, counted, said

_SCANNED = {
    Marking.CONTROL_UNIT: SealingFact.CONTROL_UNIT,
    Marking.PAPER_TRAIL_UNIT: SealingFact.PAPER_TRAIL_UNIT,
}
_PAPERS = ("thermal", "plain")


class Envelopes:
    """The envelopes of a station, as they lie on the table when it is finished.

    The markings are those that the page showed for writing; the serials are those
    that were read on the units themselves.
    """

    def __init__(self, table: AtTable, on: date) -> None:
        self._table = table
        self._on = on
        self._station: PollingStation = table.sealing.station
        self._expected = ExpectedContainers(self._station.contest.election, [])
        self.sets: dict[str, UnitSet] = {
            row.number: row for row in self._station.unit_sets.all()
        }

    def said(self, fact: SealingFact, unit: Unit, kind: ContentKind) -> str:
        """Return what was answered of a fact."""
        return said(self._table.asked, self._table.answers, fact, unit.number, kind)

    def arrival(self, unit: Unit, kind: ContentKind) -> Arrival:
        """Return the envelope of one content of one unit set."""
        slips = counted(self.said(SealingFact.SLIP_COUNT, unit, kind))
        read = {m: self.said(fact, unit, kind) for m, fact in _SCANNED.items()}
        unreadable = frozenset(m for m, text in read.items() if text == NOT_KNOWN)
        written = self._to_write(unit, kind) | {m: t for m, t in read.items() if t}
        paper = self.said(SealingFact.PAPER, unit, kind)
        return Arrival(
            noun="envelope",
            kind=kind,
            received_on=self._on,
            sealed_on=self._on,
            written={m: t for m, t in written.items() if m not in unreadable},
            unreadable=unreadable,
            seals=self._seals(unit, kind),
            description="Nil content: no slips in it" if slips == 0 else "",
            remarks=self._remarks(unit, kind),
            slip_count=slips,
            self_test_count=counted(self.said(SealingFact.SELF_TEST_COUNT, unit, kind)),
            uncut_count=counted(self.said(SealingFact.UNCUT_COUNT, unit, kind)),
            paper=paper if paper in _PAPERS else "",
        )

    def _to_write(self, unit: Unit, kind: ContentKind) -> dict[Marking, str]:
        contest = self._station.contest
        match = Match(contest, self._station, self.sets[unit.number])
        blank = Arrival(noun="envelope", kind=kind, received_on=self._on)
        expected = self._expected.markings(match, blank)
        required = required_markings(contest.election, kind, "envelope")
        return {m: text for m, text in expected.items() if m in required}

    def _seals(self, unit: Unit, kind: ContentKind) -> tuple[SealEntry, ...]:
        maker = _known(self.said(SealingFact.SEAL_MAKER, unit, kind))
        kinds = {
            SealingFact.ENVELOPE_SEAL: SealKind.WAX,
            SealingFact.ENVELOPE_PAPER_SEAL: SealKind.PAPER,
        }
        return tuple(
            SealEntry(seal_kind, maker, _known(serial))
            for fact, seal_kind in kinds.items()
            if (serial := self.said(fact, unit, kind))
        )

    def _remarks(self, unit: Unit, kind: ContentKind) -> str:
        """Return what was said in words, and what could not be told."""
        words = []
        for question in self._table.asked:
            answer = self._table.answers.get(question.about, "").strip()
            step = question.step
            about = question.unit in (unit.number, "") and question.kind in (kind, None)
            if not about or not answer:
                continue
            if answer == NOT_KNOWN:
                words.append(f"{step.title}: not known.")
            elif step.asked is Asked.TEXT and step.records is SealingFact.NONE:
                words.append(f"{step.title}: {answer}.")
        return " ".join(words)


def _known(answer: str) -> str:
    return "" if answer == NOT_KNOWN else answer
