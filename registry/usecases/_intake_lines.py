"""A line of a list of containers: read into an arrival, or refused with reasons."""

from datetime import date
from decimal import Decimal, InvalidOperation

from registry.rules.arrivals import Arrival, SealEntry, SealKind
from registry.rules.markings import Marking, plain_name, read_date
from registry.rules.schedules import ContentKind
from registry.usecases._arrivals import too_long
from registry.usecases._tables import Line

COLUMNS: dict[str, tuple[str, ...]] = {
    "container": ("type", "noun", "container type"),
    "content": ("kind", "content class", "contents", "class"),
    "election": ("election name", "name of election"),
    "constituency_number": ("constituency no", "constituency", "const no"),
    "constituency_name": ("name of constituency",),
    "station_number": ("station no", "polling station number", "ps no", "stations"),
    "station_name": ("polling station name", "polling station", "ps name"),
    "control_unit": ("control unit serial", "cu serial", "cu no", "cu"),
    "paper_trail_unit": ("paper trail unit serial", "paper trail serial", "printer"),
    "poll_date": ("date of poll", "polled on"),
    "counting_date": ("date of counting", "counted on"),
    "unreadable": ("unreadable markings",),
    "sealed_on": ("date of sealing", "sealed"),
    "received_on": ("date of receipt", "received"),
    "slips": ("slip count", "number of slips"),
    "self_test_reports": ("self test count", "self tests"),
    "paper": ("paper of the slips", "paper kind", "printed on"),
    "seal_kind": ("type of seal",),
    "seal_maker": ("seal owner", "die"),
    "seal_number": ("seal serial", "seal no", "seal"),
    "seal_signed": ("signed",),
    "seal_intact": ("intact", "seal condition"),
    "box": ("box label", "box no", "box number", "label"),
    "weight_kg": ("gross weight", "weight"),
    "description": ("packet", "packet title"),
    "remarks": ("note",),
}
REQUIRED = ("content",)
# What tells a list of containers from a list of polling stations.
TELLS_CONTAINERS = {"content", "kind", "contentclass", "contents", "container"}

_KINDS = {
    **{plain_name(kind.value.replace("-", " ")): kind for kind in ContentKind},
    **{plain_name(kind.value): kind for kind in ContentKind},
    "poll": ContentKind.POLL_SLIPS,
    "mock poll slips": ContentKind.MOCK_POLL_SLIPS,
    "mock poll": ContentKind.MOCK_POLL_SLIPS,
    "statutory packets": ContentKind.STATUTORY_PACKET,
    "packet": ContentKind.STATUTORY_PACKET,
}
_SEALS = {
    "": None,
    "wax": SealKind.WAX,
    "wax seal": SealKind.WAX,
    "paper": SealKind.PAPER,
    "paper seal": SealKind.PAPER,
    "numbered paper seal": SealKind.PAPER,
    "strap": SealKind.STRAP,
    "cable": SealKind.STRAP,
}
# What slips are printed on, in the words of the sealing table.
_PAPERS = {"": "", "unknown": "", "not known": "", "thermal": "thermal",
           "thermal paper": "thermal", "plain": "plain", "plain paper": "plain",
           "plain paper ink or toner": "plain"}  # fmt: skip
_SIGNED = {"yes": True, "y": True, "signed": True, "1": True, "true": True,
           "no": False, "n": False, "unsigned": False, "0": False, "false": False,
           "": None, "not seen": None}  # fmt: skip
_BROKEN = {"yes": False, "y": False, "intact": False, "1": False, "true": False,
           "no": True, "n": True, "broken": True, "0": True, "false": True,
           "": False}  # fmt: skip
_MARKING_COLUMNS = {
    Marking(m): "election" if m is Marking.ELECTION else m.value.replace("-", "_")
    for m in Marking
}


def arrival_of(line: Line, today: date, reasons: list[str]) -> Arrival | None:
    """Return the arrival that a line tells of, or None with the reasons why not.

    Args:
        today: the day it is where the election's law is in force; a line without a
            day of receipt came in today.
        reasons: is added to; a line is refused only where it cannot be recorded.
    """
    if "" in line.cells:
        reasons.append("It has more cells than the first line has columns.")
        return None
    kind = _kind(line, reasons)
    noun = line["container"].casefold() or "envelope"
    if noun not in ("envelope", "box"):
        reasons.append(f"A container is an envelope or a box, not “{noun}”.")
    received, sealed = _days(line, today, reasons)
    written = {m: line[c] for m, c in _MARKING_COLUMNS.items() if line[c]}
    if not written and not line["seal_number"]:
        reasons.append("Nothing that is written on the container stands here.")
    arrival = Arrival(
        noun=noun,
        kind=kind or ContentKind.POLL_SLIPS,
        received_on=received,
        sealed_on=sealed,
        written=written,
        unreadable=_unreadable(line, reasons),
        seals=_seals(line, reasons),
        slip_count=_count(line, "slips", reasons),
        self_test_count=_count(line, "self_test_reports", reasons),
        paper=_paper(line, noun, kind, reasons),
        description=line["description"],
        remarks=line["remarks"],
        label=line["box"] if noun == "box" else "",
        gross_weight_kg=_weight(line, reasons),
    )
    reasons += too_long(arrival).values()
    return None if reasons else arrival


def _kind(line: Line, reasons: list[str]) -> ContentKind | None:
    kind = _KINDS.get(plain_name(line["content"].replace("-", " ")))
    if kind is None:
        reasons.append(
            f"Its content “{line['content']}” is none of poll slips, mock-poll slips, "
            "statutory packet."
        )
    return kind


def _days(line: Line, today: date, reasons: list[str]) -> tuple[date, date | None]:
    received = _day(line, "received_on", reasons) or today
    sealed = _day(line, "sealed_on", reasons)
    if received > today:
        reasons.append(f"The day of receipt {received.isoformat()} has not come yet.")
    if sealed and sealed > received:
        reasons.append("It is said to be sealed after it was received.")
    return received, sealed


def _day(line: Line, column: str, reasons: list[str]) -> date | None:
    if not line[column]:
        return None
    day = read_date(line[column])
    if day is None:
        reasons.append(f"The date {line[column]} ({column}) cannot be read.")
    return day


def _count(line: Line, column: str, reasons: list[str]) -> int | None:
    text = line[column]
    if not text:
        return None
    if not (text.isascii() and text.isdigit()) or len(text) > 7:
        reasons.append(f"{text} ({column}) is not a count.")
        return None
    return int(text)


def _paper(line: Line, noun: str, kind: ContentKind | None, reasons: list[str]) -> str:
    paper = _PAPERS.get(plain_name(line["paper"]))
    if paper is None:
        reasons.append(f"“{line['paper']}” is no paper of slips: thermal, plain.")
        return ""
    if paper and (noun == "box" or kind is ContentKind.STATUTORY_PACKET):
        reasons.append(
            "The paper is that of slips: say it on the lines of their envelopes, and "
            "leave it empty here."
        )
    return paper


def _weight(line: Line, reasons: list[str]) -> Decimal | None:
    text = line["weight_kg"].replace(",", ".")
    if not text:
        return None
    try:
        weight = Decimal(text)
    except InvalidOperation:
        weight = Decimal(-1)
    if not weight.is_finite() or not 0 < weight < 1000:
        reasons.append(f"{line['weight_kg']} is not a weight in kilograms.")
        return None
    return weight.quantize(Decimal("0.01"))


def _seals(line: Line, reasons: list[str]) -> tuple[SealEntry, ...]:
    """Read the seals of a line; several numbers stand apart by a semicolon."""
    kind_text = plain_name(line["seal_kind"])
    if kind_text not in _SEALS:
        reasons.append(f"“{line['seal_kind']}” is no kind of seal: wax, paper, strap.")
        return ()
    signed, intact = line["seal_signed"].casefold(), line["seal_intact"].casefold()
    if signed not in _SIGNED:
        reasons.append(f"“Signed” must be yes or no, not {line['seal_signed']}.")
        return ()
    if intact not in _BROKEN:
        reasons.append(f"“Seal intact” must be yes or no, not {line['seal_intact']}.")
        return ()
    kind = _SEALS[kind_text]
    serials = [part.strip() for part in line["seal_number"].split(";") if part.strip()]
    if kind is None and not serials:
        return ()
    if kind is None:
        kind = SealKind.PAPER if line["container"].casefold() == "box" else SealKind.WAX
    return tuple(
        SealEntry(kind, line["seal_maker"], serial, _SIGNED[signed], _BROKEN[intact])
        for serial in serials or [""]
    )


def _unreadable(line: Line, reasons: list[str]) -> frozenset[Marking]:
    names = [p.strip() for p in line["unreadable"].replace(";", ",").split(",")]
    found = set()
    for name in filter(None, names):
        try:
            found.add(Marking(name.casefold().replace(" ", "-").replace("_", "-")))
        except ValueError:
            reasons.append(f"“{name}” is no marking.")
    return frozenset(found)
