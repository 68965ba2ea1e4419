"""What a change moves, as rows of a table."""

from datetime import date
from typing import Any

from registry.rules.schedule_changes import Effect
from registry.usecases.calendars import EffectRow, Effects

COLUMNS = (
    "Contest",
    "Content",
    "Containers",
    "Ends",
    "What moves",
    "May be disposed of from",
)
_TONES = {Effect.EARLIER: "stop", Effect.LATER: "wait", Effect.UNCHANGED: "plain"}
_WORDS = {
    Effect.EARLIER: "earlier",
    Effect.LATER: "later",
    Effect.UNCHANGED: "unchanged",
}
PAGE = 100


def effect_table(
    effects: Effects, *, all_rows: bool, page: int = 1, address: str = ""
) -> dict[str, Any]:
    """Return what a template needs to show what a change moves.

    Args:
        all_rows: also what stays as it is.
        page: from 1; ``address`` is that of the page with ``page=`` still to be added.
    """
    rows = effects.rows if all_rows else effects.moved
    last = max(1, -(-len(rows) // PAGE))
    page = min(max(page, 1), last)
    shown = rows[(page - 1) * PAGE : page * PAGE]
    return {
        "effects": effects,
        "effect_columns": COLUMNS,
        "effect_rows": [_cells(row) for row in shown],
        "effect_left": 0 if address else len(rows) - len(shown),
        "page": {
            "previous_url": f"{address}page={page - 1}" if page > 1 else "",
            "next_url": f"{address}page={page + 1}" if page < last else "",
            "shown": len(shown),
        }
        if address and last > 1
        else None,
    }


def page_asked(text: str) -> int:
    """Return the page that an address asks for; the first where it names none."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else 1


def _cells(row: EffectRow) -> list[Any]:
    moved = "; ".join(
        f"{end.title}: {_end(end.before, end.stood)} → {_end(end.after, end.stands)}"
        for end in row.moved
    )
    ends = {"text": _WORDS[row.effect], "tone": _TONES[row.effect]}
    if row.effect is Effect.UNCHANGED:
        free: Any = {"text": _day(row.after)}
    else:
        free = {"text": f"{_day(row.before)} → {_day(row.after)}"}
    return [row.contest, row.content, row.containers, ends, moved or "nothing", free]


def _end(day: date | None, bears: bool) -> str:
    return _day(day) if bears else "not there"


def _day(day: date | None) -> str:
    return f"{day:%-d %B %Y}" if day else "no end"
