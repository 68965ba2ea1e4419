"""Whether every record is what its history says, read side by side and in order."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import AppConfig
from django.db import models
from django.db.models import Exists, OuterRef

from registry.models import AccessEntry
from registry.models.guards import WRITTEN_ONCE

# Rows fetched at a time: what is read never stands in memory as a whole.
CHUNK = 2000


@dataclass(frozen=True)
class Mismatch:
    """The first place where a record and its history part.

    Attributes:
        record: the register number, or the table and key where a row has none.
        field: which column; empty where the whole row or version is at fault.
    """

    record: str
    noun: str
    field: str
    says: str
    history_says: str

    def __str__(self) -> str:
        what = f"{self.noun} {self.record}"
        if self.field:
            return (
                f"{what}, {self.field}: the record says {self.says!r}, its history "
                f"says {self.history_says!r}."
            )
        return f"{what}: {self.says}; {self.history_says}."


def versioned(app: AppConfig) -> list[type[models.Model]]:
    """Return every model of the register that keeps a history."""
    return [model for model in app.get_models() if hasattr(model, "history")]


def compare_with_history(
    model: type[models.Model], counted: list[int]
) -> Mismatch | None:
    """Walk a table and its history together; both are read once, by key.

    Args:
        counted: the number of versions read is put in its only place.
    """
    manager = model.history  # type: ignore[attr-defined]
    fields = [f for f in manager.model.tracked_fields if f.concrete]
    names = [f.attname for f in fields]
    rows = model._base_manager.order_by("pk").values_list(*names)
    versions = manager.order_by("id", "history_id").values_list(
        *names, "history_type", "history_change_reason"
    )
    key = names.index(model._meta.pk.attname)
    walk = _Walk(model, names, key, counted)
    return walk.through(
        rows.iterator(chunk_size=CHUNK), versions.iterator(chunk_size=CHUNK)
    ) or _without_an_access(model, manager)


class _Walk:
    """Two ordered streams, the records and their versions, side by side."""

    def __init__(
        self, model: type[models.Model], names: list[str], key: int, counted: list[int]
    ) -> None:
        self.model, self.names, self.key, self.counted = model, names, key, counted
        self.width = len(names)
        self.once = model._meta.db_table in WRITTEN_ONCE

    def through(
        self, rows: Iterator[tuple[Any, ...]], versions: Iterator[tuple[Any, ...]]
    ) -> Mismatch | None:
        version = next(versions, None)
        for row in rows:
            if version is not None and version[self.key] < row[self.key]:
                return self._orphan(version)
            last = None
            while version is not None and version[self.key] == row[self.key]:
                broken = self._link(last, version)
                if broken:
                    return broken
                self.counted[0] += 1
                last, version = version, next(versions, None)
            fault = self._compare(row, last)
            if fault:
                return fault
        return self._orphan(version) if version is not None else None

    def _link(
        self, before: tuple[Any, ...] | None, version: tuple[Any, ...]
    ) -> Mismatch | None:
        """Each history begins with an entry and goes on with changes only."""
        kind = version[self.width]
        if before is None and kind != "+":
            return self._fault(version, "its history does not begin with its entry")
        if before is not None and kind != "~":
            return self._fault(version, "its history holds a second entry or an end")
        if before is not None and self.once:
            return self._fault(version, "it is written once, but its history changes")
        if before is not None and "number" in self.names:
            place = self.names.index("number")
            if before[place] != version[place]:
                return self._differs("number", version[place], before[place], before)
        return None

    def _compare(
        self, row: tuple[Any, ...], last: tuple[Any, ...] | None
    ) -> Mismatch | None:
        if last is None:
            return self._fault(row, "it has no history at all")
        if row == last[: self.width]:
            return None
        for name, says, history in zip(self.names, row, last, strict=False):
            if says != history:
                return self._differs(name, says, history, row)
        return None

    def _orphan(self, version: tuple[Any, ...]) -> Mismatch:
        return self._fault(version, "its history is there, but the record is not")

    def _differs(
        self, name: str, says: Any, history: Any, row: tuple[Any, ...]
    ) -> Mismatch:
        return Mismatch(self._called(row), self._noun(), name, str(says), str(history))

    def _fault(self, row: tuple[Any, ...], says: str) -> Mismatch:
        return Mismatch(
            self._called(row),
            self._noun(),
            "",
            says,
            "somebody wrote past the register",
        )

    def _noun(self) -> str:
        return str(self.model._meta.verbose_name)

    def _called(self, row: tuple[Any, ...]) -> str:
        if "number" in self.names:
            return str(row[self.names.index("number")])
        return f"row {row[self.key]}"


def _without_an_access(model: type[models.Model], manager: Any) -> Mismatch | None:
    """Return the first version that no act on record has written."""
    done = AccessEntry.objects.filter(
        at=OuterRef("history_date"),
        act=OuterRef("history_change_reason"),
        outcome=AccessEntry.Outcome.DONE,
    )
    version = manager.filter(~Exists(done)).order_by("history_id").first()
    if version is None:
        return None
    called = getattr(version, "number", "") or f"row {version.id}"
    act = version.history_change_reason or "an act without a name"
    says = f"its history tells of {act} at {version.history_date:%Y-%m-%d %H:%M:%S}"
    why = "no such act is entered among the accesses"
    return Mismatch(called, str(model._meta.verbose_name), "", says, why)
