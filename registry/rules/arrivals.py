"""What is wrong with a container that has arrived.

What physically arrives is always recorded. Whatever is wrong with it is named here,
one problem for each thing, and any problem puts it into quarantine; nothing is
refused at the door and nothing is corrected in silence.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from registry.rules.markings import Finding, Marking, Verdict
from registry.rules.numbers import plain_serial
from registry.rules.schedules import ContentKind


class DiscrepancyKind(StrEnum):
    """What can be wrong with a container."""

    MARKING_MISSING = "marking-missing"
    MARKING_UNREADABLE = "marking-unreadable"
    MARKING_DIFFERS = "marking-differs"
    UNEXPECTED = "unexpected"
    DUPLICATE_SERIAL = "duplicate-serial"
    DUPLICATE_SEAL = "duplicate-seal"
    SEAL_MISSING = "seal-missing"
    SEAL_UNSIGNED = "seal-unsigned"
    SEAL_BROKEN = "seal-broken"
    NOT_FOUND = "not-found"
    MISSING = "missing"
    SWAPPED = "swapped-serials"
    COUNT_DIFFERS = "count-differs"
    WRONG_PLACE = "wrong-place"
    STRANGE = "strange"
    MATERIAL = "material"
    KEY_LOST = "key-lost"
    OTHER = "other"


class SealKind(StrEnum):
    """What a seal is made of."""

    WAX = "wax"
    PAPER = "paper"
    STRAP = "strap"


@dataclass(frozen=True)
class SealEntry:
    """A seal as the custodian sees it on the container.

    Attributes:
        maker: the maker, or for wax the office that owns the die.
        serial: as printed; empty for a plain wax seal.
        signed: for paper seals; None where it was not looked at.
        broken: it did not arrive intact.
    """

    kind: SealKind
    maker: str = ""
    serial: str = ""
    signed: bool | None = None
    broken: bool = False

    @property
    def identity(self) -> tuple[str, str, str] | None:
        """What must be on one live container only; None for an unnumbered seal."""
        plain = plain_serial(self.serial)
        if not plain:
            return None
        return " ".join(self.maker.casefold().split()), self.kind.value, plain


@dataclass(frozen=True)
class Arrival:
    """A container as it stands on the table: what is written on it and its seals.

    Attributes:
        written: markings as written; unreadable ones are named apart.
        uncut_count: slips that hung uncut in the unit, not counted with the others.
        paper: what the slips are printed on; empty where it is not known.
        closed: a box that is still being filled is not closed and needs no seal yet.
    """

    noun: str
    kind: ContentKind
    received_on: date
    written: Mapping[Marking, str] = field(default_factory=dict)
    unreadable: frozenset[Marking] = frozenset()
    seals: tuple[SealEntry, ...] = ()
    sealed_on: date | None = None
    description: str = ""
    remarks: str = ""
    slip_count: int | None = None
    self_test_count: int | None = None
    uncut_count: int | None = None
    paper: str = ""
    label: str = ""
    gross_weight_kg: Decimal | None = None
    closed: bool = True


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with a container; ``other`` bears the same number."""

    kind: DiscrepancyKind
    marking: str = ""
    written: str = ""
    expected: str = ""
    detail: str = ""
    other: str = ""


_OF_VERDICT = {
    Verdict.MISSING: DiscrepancyKind.MARKING_MISSING,
    Verdict.UNREADABLE: DiscrepancyKind.MARKING_UNREADABLE,
    Verdict.DIFFERS: DiscrepancyKind.MARKING_DIFFERS,
}


def problems_with(
    arrival: Arrival,
    findings: Sequence[Finding],
    *,
    is_expected: bool,
    same_serial_on: Sequence[str] = (),
    same_seal_on: Mapping[tuple[str, str, str], str] | None = None,
) -> tuple[Problem, ...]:
    """Return everything that is wrong with an arrival.

    Args:
        findings: its markings against the master data, from ``markings.compare``.
        is_expected: whether the election's master data knows of it.
        same_serial_on: numbers of live envelopes of its kind with a serial of it.
        same_seal_on: the number of the container that bears a seal of its number.
    """
    return (
        *_unexpected(arrival, is_expected),
        *(_marking(finding) for finding in findings if finding.is_open),
        *_serials(arrival, same_serial_on),
        *_seals(arrival, same_seal_on or {}),
    )


def _unexpected(arrival: Arrival, is_expected: bool) -> tuple[Problem, ...]:
    if is_expected:
        return ()
    detail = f"No {arrival.noun} with these markings is expected in this election."
    return (Problem(DiscrepancyKind.UNEXPECTED, detail=detail),)


def _marking(finding: Finding) -> Problem:
    return Problem(
        _OF_VERDICT[finding.verdict],
        marking=finding.marking.value,
        written=finding.written,
        expected=finding.expected,
        detail=_told(finding),
    )


def _told(finding: Finding) -> str:
    if finding.verdict is not Verdict.DIFFERS:
        return f"{finding.title}: {finding.verdict}."
    return (
        f"{finding.title}: differs; “{finding.written}” is written, "
        f"“{finding.expected}” must stand there."
    )


def _serials(arrival: Arrival, same_serial_on: Sequence[str]) -> tuple[Problem, ...]:
    return tuple(
        Problem(
            DiscrepancyKind.DUPLICATE_SERIAL,
            detail=f"A serial written on it already stands on {number}.",
            other=number,
        )
        for number in same_serial_on
    )


def _seals(
    arrival: Arrival, same_seal_on: Mapping[tuple[str, str, str], str]
) -> tuple[Problem, ...]:
    problems = []
    if arrival.closed and not arrival.seals:
        problems.append(
            Problem(DiscrepancyKind.SEAL_MISSING, detail="It bears no seal.")
        )
    only_wax = all(seal.kind is SealKind.WAX for seal in arrival.seals)
    if arrival.noun == "box" and arrival.closed and arrival.seals and only_wax:
        problems.append(
            Problem(
                DiscrepancyKind.SEAL_MISSING,
                detail="The box bears no numbered seal.",
            )
        )
    seen: set[tuple[str, str, str]] = set()
    for seal in arrival.seals:
        problems.extend(_one_seal(seal, same_seal_on, seen))
    return tuple(problems)


def _one_seal(
    seal: SealEntry,
    same_seal_on: Mapping[tuple[str, str, str], str],
    seen: set[tuple[str, str, str]],
) -> list[Problem]:
    problems = []
    name = f"{seal.kind} seal {seal.serial}".strip()
    if seal.broken:
        problems.append(
            Problem(
                DiscrepancyKind.SEAL_BROKEN,
                written=seal.serial,
                detail=f"The {name} did not arrive intact.",
            )
        )
    if seal.kind is not SealKind.WAX and seal.identity is None:
        problems.append(
            Problem(
                DiscrepancyKind.SEAL_MISSING,
                written=seal.serial,
                detail=f"The {name} bears no number that can be read.",
            )
        )
    if seal.kind is SealKind.PAPER and seal.signed is False:
        problems.append(
            Problem(
                DiscrepancyKind.SEAL_UNSIGNED,
                written=seal.serial,
                detail=f"The {name} is not signed.",
            )
        )
    if seal.identity and (seal.identity in same_seal_on or seal.identity in seen):
        other = same_seal_on.get(seal.identity, "")
        bearer = other or "this container itself"
        problems.append(
            Problem(
                DiscrepancyKind.DUPLICATE_SEAL,
                written=seal.serial,
                detail=f"The number of the {name} already stands on {bearer}.",
                other=other,
            )
        )
    if seal.identity:
        seen.add(seal.identity)
    return problems
