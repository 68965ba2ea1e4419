"""The account of seals, envelopes and boxes, read at once for an election.

Seals on all containers of the election are counted, superseded ones and those of
containers since disposed of too: a seal once put on is not free for another use.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Q

from registry.models import (
    Box,
    Contest,
    Discrepancy,
    Election,
    Envelope,
    MaterialEnd,
    MaterialIssue,
    Seal,
    StrongRoom,
)
from registry.queries.scope import rooms_of
from registry.rules.arrivals import DiscrepancyKind, SealKind
from registry.rules.material_facts import (
    Answered,
    Applied,
    End,
    Fate,
    Issue,
    MaterialFacts,
)
from registry.rules.materials import MaterialAccount, accounts
from registry.rules.powers import Actor
from registry.rules.seal_numbers import SealRange, seal_range

NUMBERED = (SealKind.PAPER.value, SealKind.STRAP.value)
# After the count seals are brought back within days (common practice, no source).
BROUGHT_BACK_WITHIN = timedelta(days=7)


@dataclass(frozen=True)
class LotRow:
    """A lot as it was recorded, and what became of its pieces."""

    number: str
    what: str
    kind: str
    maker: str
    serials: str
    count: int
    issued_on: date
    issued_to: str
    receipt: str
    fates: dict[str, int]


@dataclass(frozen=True)
class EndRow:
    """Pieces that were not used, and where the spoilt ones are kept."""

    number: str
    lot: str
    fate: str
    what: str
    count: int
    on: date
    kept_in: str
    note: str


@dataclass(frozen=True)
class MaterialFile:
    """Everything that the page of a contest's material shows.

    Attributes:
        has_issues: without any there is no account, and seals stand there unasked.
    """

    number: str
    title: str
    election: str
    election_number: str
    lots: tuple[LotRow, ...]
    ends: tuple[EndRow, ...]
    account: MaterialAccount

    @property
    def has_issues(self) -> bool:
        """Whether anything was recorded as issued."""
        return bool(self.lots)


@dataclass(frozen=True)
class MaterialStanding:
    """How far the material of a contest is accounted for."""

    number: str
    title: str
    issued: int
    applied: int
    ended: int
    unaccounted: int
    differences: int


def material_facts(election: Election, actor: Actor) -> MaterialFacts:
    """Return what is known of an election's material, in a fixed number of queries."""
    issues = MaterialIssue.objects.filter(contest__election=election).order_by("id")
    ends = MaterialEnd.objects.filter(issue__contest__election=election)
    return MaterialFacts(
        issues=tuple(
            Issue(
                ref=row.number,
                contest=row.contest.number,
                kind=row.kind,
                count=row.count,
                issued_on=row.issued_on,
                maker=row.maker_plain,
                numbers=_range(row.first_serial, row.last_serial),
            )
            for row in issues.select_related("contest")
        ),
        ends=tuple(
            End(
                ref=row.number,
                issue=row.issue.number,
                fate=Fate(row.fate),
                count=row.count,
                numbers=_range(row.first_serial, row.last_serial),
            )
            for row in ends.select_related("issue").order_by("id")
        ),
        applied=_applied(election, actor),
        used=_used(election),
        answered=_answered(election),
    )


def _range(first: str, last: str) -> SealRange | None:
    return seal_range(first, last) if first else None


def _applied(election: Election, actor: Actor) -> tuple[Applied, ...]:
    visible = set(rooms_of(actor).values_list("id", flat=True))
    rooms = dict(StrongRoom.objects.values_list("id", "name"))
    rows: Any = (
        Seal.objects.filter(
            Q(box__election=election) | Q(envelope__election=election),
            kind__in=NUMBERED,
        )
        .exclude(serial_plain="")
        .order_by("id")
        .values_list(
            *("number", "kind", "serial", "serial_plain", "maker_plain"),
            *("box__number", "box__room_id", "box__contest__number"),
            *("envelope__number", "envelope__room_id", "envelope__contest__number"),
        )
    )
    found = []
    for number, kind, serial, plain, maker, *on in rows.iterator():
        bearer, room, contest = on[:3] if on[0] else on[3:]
        noun = "a box" if on[0] else "an envelope"
        name = bearer if room in visible else f"{noun} in {rooms[room]}"
        found.append(Applied(number, contest or "", kind, serial, plain, name, maker))
    return tuple(found)


def _used(election: Election) -> tuple[tuple[str, str, int], ...]:
    """Count the envelopes and boxes of each contest, gone ones too."""
    counted: Counter[tuple[str, str]] = Counter()
    for kind, model in (("envelope", Envelope), ("box", Box)):
        rows: Any = model.objects.filter(contest__election=election)
        for contest in rows.order_by().values_list("contest__number", flat=True):
            counted[contest, kind] += 1
    return tuple((contest, kind, n) for (contest, kind), n in counted.items())


def _answered(election: Election) -> tuple[Answered, ...]:
    rows = Discrepancy.objects.filter(
        kind=DiscrepancyKind.MATERIAL.value, contest__election=election
    )
    return tuple(
        Answered(
            ref=row.number,
            contest=row.contest.number if row.contest else "",
            written=row.written,
            expected=row.expected,
            is_resolved=row.resolved_at is not None,
            owner=row.owner.name if row.owner else "",
            due_on=row.due_on,
            resolution=row.resolution,
        )
        for row in rows.select_related("contest", "owner").order_by("id")
    )


def material_file(contest: Contest, actor: Actor) -> MaterialFile:
    """Return the account of a contest's material, for its page and its paper."""
    facts = material_facts(contest.election, actor)
    account = accounts(facts, [contest.number])[contest.number]
    fates = {lot.issue.ref: lot.fates for lot in account.lots}
    issues = contest.material_issues.order_by("id")
    ends = MaterialEnd.objects.filter(issue__contest=contest).select_related("issue")
    return MaterialFile(
        number=contest.number,
        title=str(contest),
        election=str(contest.election),
        election_number=contest.election.number,
        lots=tuple(
            LotRow(
                number=row.number,
                what=row.get_kind_display(),
                kind=row.kind,
                maker=row.maker,
                serials=serials_of(row),
                count=row.count,
                issued_on=row.issued_on,
                issued_to=row.issued_to,
                receipt=row.receipt,
                fates={f.value: n for f, n in fates.get(row.number, {}).items()},
            )
            for row in issues
        ),
        ends=tuple(
            EndRow(
                number=row.number,
                lot=row.issue.number,
                fate=row.get_fate_display(),
                what=serials_of(row) or row.issue.get_kind_display(),
                count=row.count,
                on=row.occurred_on,
                kept_in=row.kept_in,
                note=row.note,
            )
            for row in ends.order_by("id")
        ),
        account=account,
    )


def serials_of(row: MaterialIssue | MaterialEnd) -> str:
    """Return the serials of seals in words; empty for what is counted only."""
    numbers = _range(row.first_serial, row.last_serial)
    return str(numbers) if numbers else ""


def material_standings(
    election: Election, actor: Actor
) -> tuple[MaterialStanding, ...]:
    """Return how far each contest's seals are accounted for."""
    contests = list(election.contests.order_by("id"))
    found = accounts(material_facts(election, actor), [c.number for c in contests])
    standings = []
    for contest in contests:
        of = found[contest.number]
        fates: Counter[Fate] = Counter()
        for lot in of.lots:
            fates += Counter(lot.fates)
        standings.append(
            MaterialStanding(
                number=contest.number,
                title=str(contest),
                issued=fates.total(),
                applied=fates[Fate.APPLIED],
                ended=fates[Fate.SPOILT] + fates[Fate.RETURNED] + fates[Fate.LOST],
                unaccounted=fates[Fate.UNACCOUNTED],
                differences=len(of.open),
            )
        )
    return tuple(standings)


def is_seal(kind: str) -> bool:
    """Tell whether material of this kind is numbered."""
    return kind in NUMBERED
