"""The frozen list, the sheet to walk with and the report of a stock-take."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from itertools import groupby

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.documents.reports import BYTE_ORDER_MARK
from registry.documents.spreadsheet_cells import csv_line, harmless_line
from registry.queries.stock_takes import ItemRow, ListedContainer, StockTakeFile
from registry.rules.stock_takes import percent, statements
from registry.rules.wording import shown

LIST_COLUMNS = ("line", *ListedContainer.__dataclass_fields__)


def frozen_list(containers: Iterable[ListedContainer]) -> bytes:
    """Return the list from which a sample is drawn, as CSV; its order is fixed.

    RFC 4180; the number of each container stands in the column ``number``.
    """
    lines = [BYTE_ORDER_MARK + csv_line((*LIST_COLUMNS, "escaped"))]
    for line, container in enumerate(containers, start=1):
        lines.append(harmless_line({"line": str(line), **vars(container)}))
    return "".join(lines).encode()


@dataclass(frozen=True)
class StockTakePaper:
    """A stock-take as it is printed."""

    file: StockTakeFile
    made_at: datetime
    made_by: str


def stock_take_sheet(paper: StockTakePaper) -> bytes:
    """Return the sheet to walk with: where to look, and room to write.

    No recorded seal stands on it: a seal is read before it is compared.
    """
    return _pdf(
        paper,
        "documents/stock_take_sheet.html",
        "Stock-take sheet",
        {
            "stops": stops_of(paper.file.items),
            "signers": ("Looked at by", "Second person"),
        },
    )


@dataclass(frozen=True)
class Stop:
    """One thing to look at on the walk, and the drawn containers it answers for."""

    look_at: str
    place: str
    items: tuple[ItemRow, ...]


def stops_of(items: Iterable[ItemRow]) -> tuple[Stop, ...]:
    """Return what is looked at in the order of the walk, a sealed box once."""

    def by_place(item: ItemRow) -> tuple[str, str]:
        return item.container.place, item.look_at

    walk = groupby(sorted(items, key=by_place), key=by_place)
    return tuple(
        Stop(look_at, place, tuple(behind)) for (place, look_at), behind in walk
    )


def stock_take_report(paper: StockTakePaper) -> bytes:
    """Return the report: population, seed, method, drawn, found, and what it shows."""
    of = paper.file
    return _pdf(
        paper,
        "documents/stock_take_report.html",
        "Stock-take report",
        {
            "file": of,
            "statements": statements(of.outcome, of.nouns),
            "recipe": recipe(of),
            "command": repeat_command(of),
            "items": [(item, outcome_word(item), _as_seen(item)) for item in of.items],
            "signers": ("Taken by", "Seen by the custodian"),
        },
    )


def _as_seen(item: ItemRow) -> str:
    looks = [f"{look.said} ({look.by}, {written_moment(look.seen_at)})"
             for look in item.seen]  # fmt: skip
    return "; ".join(looks) or "–"


def recipe(of: StockTakeFile) -> tuple[str, ...]:
    """Return how anybody repeats the draw, with paper or any program."""
    if of.row.whole or not of.seed:
        return ()
    return (
        "Take the frozen list and check its SHA-256 digest. Number what is left of it "
        "from 0.",
        f"Write the key: {of.seed} (each source’s numbers from the smallest, each "
        "followed by a dot; a slash after each source).",
        "Hash with MD5 the two bytes 00 00, the key, and the two bytes 00 00 again; "
        "read the hash as one number and divide it by how many lines are left. The "
        "remainder is the line that is drawn; strike it from the list.",
        "Go on with 00 01, 00 02 and so on, until enough are drawn (RFC 3797, "
        "section 4).",
    )


def repeat_command(of: StockTakeFile) -> str:
    """Return the command that repeats the draw."""
    if of.row.whole or not of.seed:
        return ""
    return (
        f"python3 manage.py repeat-draw --seed '{of.seed}' "
        f"--population {of.row.population} --count {of.row.sample_size}"
    )


def _pdf(
    paper: StockTakePaper, template: str, kind: str, facts: dict[str, object]
) -> bytes:
    of = paper.file
    return render(
        Paper(
            template=template,
            facts={
                "kind": kind,
                "number": of.row.number,
                "facts": _facts(of),
                "row": of.row,
                **facts,
            },
            title=f"{kind} {of.row.number}",
            made_at=paper.made_at,
            made_by=paper.made_by,
        )
    )


def _facts(of: StockTakeFile) -> Sequence[tuple[str, object]]:
    planned = (
        "everything"
        if of.row.whole
        else f"a loss of {of.lost_supposed:,}, with {percent_of(of)}"
    )
    facts = [
        ("Of", of.row.of),
        ("Purpose", of.row.purpose),
        ("Population", f"{of.row.population:,} {of.nouns}"),
        ("To be found" if not of.row.whole else "Looked at", planned),
        ("Drawn", f"{of.row.sample_size:,}"),
        ("List frozen", f"{written_moment(of.row.frozen_at)}, by {of.frozen_by}"),
        ("Digest of the list", of.list_digest),
    ]
    if not of.row.whole:
        facts += [
            ("Seed announced", of.seed_announced),
            ("To be known on", shown(of.row.seed_on) if of.row.seed_on else ""),
            ("Seed", of.seed or "not known yet"),
            ("Method", "RFC 3797, from the frozen list, without replacement"),
        ]
    if of.drawn_at:
        facts.append(("Drawn at", f"{written_moment(of.drawn_at)}, by {of.drawn_by}"))
    if of.ended_at:
        facts.append(("Ended", f"{written_moment(of.ended_at)}, by {of.ended_by}"))
    if of.given_up_before:
        facts.append(
            ("Given up before", f"{of.given_up_before} stock-takes of the same")
        )
    return facts


def percent_of(of: StockTakeFile) -> str:
    """Return the planned probability as a percentage."""
    return percent(Fraction(of.probability))


def stock_take_csv(paper: StockTakePaper) -> bytes:
    """Return the report's lines as CSV."""
    return "".join(_csv_lines(paper)).encode()


def _csv_lines(paper: StockTakePaper) -> Iterator[str]:
    of = paper.file
    common = {
        "stock_take": of.row.number,
        "of": of.row.of,
        "population": str(of.row.population),
        "list_digest": of.list_digest,
        "seed": of.seed,
        "method": "full count" if of.row.whole else "RFC 3797",
        "probability_achieved": f"{float(of.outcome.achieved):.6f}",
    }
    head = [*common, *_cells_of(of.items[0])] if of.items else list(common)
    yield BYTE_ORDER_MARK + csv_line((*head, "escaped"))
    for item in of.items:
        yield harmless_line(common | _cells_of(item))


def _cells_of(item: ItemRow) -> dict[str, str]:
    last = item.seen[-1] if item.seen else None
    return {
        "position": str(item.position),
        "line": str(item.line),
        **vars(item.container),
        "looked_at_by": item.look_at,
        "outcome": outcome_word(item),
        "said": "; ".join(look.said for look in item.seen),
        "seen_at": last.seen_at.isoformat() if last else "",
        "seen_by": last.by if last else "",
    }


def outcome_word(item: ItemRow) -> str:
    """Return how a drawn container was found, in one word or two."""
    if not item.looked_at:
        return "not looked at"
    if item.missing:
        return "not found"
    return "in order" if item.in_order else "not in order"
