"""Rows as the register had them at a moment: now, or as then known.

Two clocks run in the register: when a thing happened, and when it was recorded. What
was known at a moment is read from the history, whose versions carry the moment of the
act that wrote them.
"""

from collections import defaultdict
from datetime import datetime
from typing import Any, TypeVar

from django.db.models import Max, Model

Row = TypeVar("Row", bound=Model)


def rows_known(
    model: type[Row], known_at: datetime | None, **filters: Any
) -> list[Row]:
    """Return the rows of a model, in order of id, as they were known.

    Args:
        known_at: the moment; None for what is known now.
        filters: on columns, which a row's versions share.
    """
    if known_at is None:
        return list(model._default_manager.filter(**filters).order_by("pk"))
    by_then = model.history.filter(  # type: ignore[attr-defined]
        history_date__lte=known_at
    ).order_by()
    # A row that fits in none of its versions need not be looked at: tables are long.
    fitting = by_then.filter(**filters).values("id")
    # Of several versions that one act wrote, the last counts, so by id and not by
    # moment: they bear the same one.
    latest = (
        by_then.filter(id__in=fitting)
        .values("id")
        .annotate(last=Max("history_id"))
        .values("last")
    )
    found = by_then.filter(history_id__in=latest, **filters).order_by("id")
    return [version.instance for version in found]


def rows_by(
    model: type[Row], column: str, ids: list[int], known_at: datetime | None
) -> dict[int, list[Row]]:
    """Return rows, as they were known, by what they belong to."""
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows_known(model, known_at, **{f"{column}__in": ids}):
        found[getattr(row, column)].append(row)
    return found


def row_known(row: Row, known_at: datetime | None) -> Row | None:
    """Return one row as it was known; None where it was not yet recorded."""
    if known_at is None:
        return row
    return next(iter(rows_known(type(row), known_at, id=row.pk)), None)
