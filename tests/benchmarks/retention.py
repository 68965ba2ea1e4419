"""How fast retention is answered, against a plain SQL join over the same rows.

    .venv/bin/python tests/benchmarks/retention.py [--containers N]

It fills a database of its own with raw rows: containers of 4,000 contests, which 2,000
cases cover, one case in ten by a single station. It asks at a tenth of the rows and at
all of them: what the rules cost must stay, since it grows with contests and cases.
The plain join knows neither closed days nor the life of a case; it is no answer, only
a measure of what reading the same rows costs on the same machine in the same run.
"""

import argparse
import itertools
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
CONTESTS, CASES, STATIONS_OF_CONTEST = 4_000, 2_000, 25
CONTESTS_OF_ELECTION = 500
ENVELOPES_OF_BOX = 9
AT = datetime(2026, 11, 2, 10, 0, tzinfo=UTC)
DECLARED = date(2025, 10, 2)
JOIN = """
    SELECT e.id, date(c.declared_on, '+12 months'), count(k.id)
    FROM registry_envelope e
    JOIN registry_contest c ON c.id = e.contest_id
    LEFT JOIN registry_casescope s ON s.contest_id = c.id AND s.ended = 0
        AND (s.station_id IS NULL OR s.station_id = e.station_id)
    LEFT JOIN registry_case k ON k.id = s.case_id
    GROUP BY e.id
"""


def main() -> None:
    """Fill the database, measure twice, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--containers", type=int, default=1_000_000)
    wanted = parser.parse_args().containers
    if wanted < 10_000:
        parser.error("--containers must be 10,000 or more to say anything")
    with tempfile.TemporaryDirectory(prefix="retention-benchmark-") as directory:
        _begin(Path(directory))
        _fill_law()
        print(
            f"{CONTESTS:,} contests, {CASES:,} cases; as of {AT:%Y-%m-%d}; SQLite\n"
            f"{'containers':>12} {'groups':>8} {'rules':>9} {'totals':>9} "
            f"{'answers/s':>11} {'join rows/s':>12} {'ratio':>7}"
        )
        filled = 0
        for size in (wanted // 10, wanted):
            _fill_containers(filled, size)
            filled = size
            _measure(size)


def _begin(directory: Path) -> None:
    os.environ |= {
        "REGISTRY_DATA": str(directory),
        "REGISTRY_MODE": "test",
        "DJANGO_SETTINGS_MODULE": "registry.settings",
    }
    os.environ.pop("DATABASE_URL", None)
    sys.path.insert(0, str(ROOT))
    import django
    from django.core.management import call_command
    from django.db import connection

    django.setup()
    call_command("migrate", verbosity=0)
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (name,) in cursor.fetchall():
            cursor.execute(f'DROP TRIGGER "{name}"')
        # Slips need a unit set, which bears on nothing that is measured here.
        cursor.execute("PRAGMA ignore_check_constraints = ON")


# --- rows --------------------------------------------------------------------------


def _insert(model: Any, rows: Iterable[dict[str, Any]]) -> None:
    """Write rows as they stand, without history: nothing answers for them."""
    from django.db import connection, transaction

    fields = model._meta.concrete_fields
    columns = ", ".join(f'"{field.column}"' for field in fields)
    marks = ", ".join("?" for _ in fields)
    blank = model()
    plain = {
        field.attname: field.get_db_prep_save(getattr(blank, field.attname), connection)
        for field in fields
    }
    names = [field.attname for field in fields]
    values = ([{**plain, **row}[name] for name in names] for row in rows)
    sql = f"INSERT INTO {model._meta.db_table} ({columns}) VALUES ({marks})"
    connection.ensure_connection()
    with transaction.atomic():
        connection.connection.cursor().executemany(sql, values)


def _fill_law() -> None:
    from registry import models

    text = (ROOT / "fixtures/schedules/calvenna-3.toml").read_text()
    _insert(
        models.RetentionSchedule,
        [{"id": 1, "number": "RS-1", "code": "calvenna", "version": 3,
          "title": "Calvenna", "in_force_from": "2024-03-01", "text": text,
          "file_name": "calvenna-3.toml", "digest": "benchmark"}],
    )  # fmt: skip
    _insert(
        models.CourtCalendar,
        [{"id": 1, "number": "CC-1", "name": "Registry", "closed_weekdays": "5,6"}],
    )
    elections = range(1, CONTESTS // CONTESTS_OF_ELECTION + 1)
    _insert(
        models.Election,
        ({"id": e, "number": f"EL-{e}", "code": f"e{e}", "name": f"Election {e}",
          "schedule_id": 1, "calendar_id": 1} for e in elections),
    )  # fmt: skip
    _insert(
        models.Contest,
        ({"id": c, "number": f"CT-{c}", "election_id": _election(c),
          "constituency_number": str(c), "constituency_name": f"Constituency {c}",
          "polled_on": "2025-09-28", "counted_on": "2025-10-01",
          "declared_on": str(DECLARED + timedelta(days=c % 30))}
         for c in range(1, CONTESTS + 1)),
    )  # fmt: skip
    _insert(
        models.PollingStation,
        ({"id": s, "number": f"ST-{s}", "contest_id": _contest_of_station(s),
          "station_number": str(s), "name": f"Station {s}"}
         for s in range(1, CONTESTS * STATIONS_OF_CONTEST + 1)),
    )  # fmt: skip
    _insert(models.StrongRoom, [{"id": 1, "number": "RM-1", "name": "Room"}])
    _fill_cases(models)


def _election(contest: int) -> int:
    return (contest - 1) // CONTESTS_OF_ELECTION + 1


def _contest_of_station(station: int) -> int:
    return (station - 1) // STATIONS_OF_CONTEST + 1


def _fill_cases(models: Any) -> None:
    contest_of = {k: (k * 7) % CONTESTS + 1 for k in range(1, CASES + 1)}
    _insert(
        models.Case,
        ({"id": k, "number": f"CA-{k}", "election_id": _election(c),
          "kind": "election-petition", "forum": "High Bench",
          "court_number": f"EP {k}", "parties": f"Party {k} v. Returning Officer"}
         for k, c in contest_of.items()),
    )  # fmt: skip
    _insert(
        models.CaseScope,
        ({"id": k, "case_id": k, "contest_id": c,
          "station_id": (c - 1) * STATIONS_OF_CONTEST + 1 if k % 10 == 0 else None,
          "narrowed_because": "one station", "narrowed_by_authority": "order"}
         for k, c in contest_of.items()),
    )  # fmt: skip
    numbers = itertools.count(1)
    events = (
        (k, kind, on, level)
        for k in contest_of
        for kind, on, level in (
            ("filed", "2025-11-03", "first"),
            ("dismissed", "2026-06-01", "first"),
            *((("appealed", "2026-06-20", "final"),) if k % 3 == 0 else ()),
        )
    )
    _insert(
        models.CaseEvent,
        ({"id": n, "number": f"CA-E{n}", "case_id": k, "kind": kind, "level": level,
          "occurred_on": on, "recorded_at": str(AT), "paper": "Order 1"}
         for n, (k, kind, on, level) in zip(numbers, events, strict=False)),
    )  # fmt: skip


def _fill_containers(filled: int, size: int) -> None:
    """Fill up to so many containers, a tenth of them boxes."""
    from registry import models

    first, last = filled // 10 + 1, size // 10
    _insert(models.Box, (_box(n) for n in range(first, last + 1)))
    _insert(models.Envelope, itertools.chain(*map(_envelopes, range(first, last + 1))))


def _box(n: int) -> dict[str, Any]:
    contest = n % CONTESTS + 1
    kind = ("poll-slips", "statutory-packet", "mock-poll-slips")[n // CONTESTS % 3]
    return {
        "id": n, "number": f"BX-{n}", "kind": kind, "contest_id": contest,
        "election_id": _election(contest), "room_id": 1, "state": "held",
        "whereabouts": "shelved", "received_on": "2025-10-02", "label": str(n),
        "shelf_id": None, "closed_on": "2025-10-02",
    }  # fmt: skip


def _envelopes(box: int) -> Iterator[dict[str, Any]]:
    around = _box(box)
    shared = ("kind", "contest_id", "election_id", "room_id", "state", "received_on")
    first_station = (around["contest_id"] - 1) * STATIONS_OF_CONTEST + 1
    for place in range(ENVELOPES_OF_BOX):
        n = (box - 1) * ENVELOPES_OF_BOX + place + 1
        station = first_station + (box // CONTESTS * ENVELOPES_OF_BOX + place) % (
            STATIONS_OF_CONTEST
        )
        yield {name: around[name] for name in shared} | {
            "id": n, "number": f"EN-{n}", "box_id": box, "station_id": station,
            "whereabouts": "in-box",
        }  # fmt: skip


# --- measuring ---------------------------------------------------------------------


def _measure(size: int) -> None:
    from django.db import connection

    from registry.models import Box, Contest, Envelope
    from registry.queries.keeping import Keeper
    from registry.queries.kept_totals import answers, groups, totals
    from registry.rules.schedules import ContentKind

    boxes, envelopes = Box.objects.all(), Envelope.objects.all()
    found = {group for group, _ in groups(boxes, envelopes)}
    contests = {
        c.pk: c
        for c in Contest.objects.select_related(
            "election__schedule", "election__calendar"
        )
    }

    def evaluate() -> None:
        keeper = Keeper(AT)
        for contest, kind, stations in found:
            keeper.contest(contests[contest or 0], ContentKind(kind), stations)

    def join() -> int:
        rows = connection.connection.cursor().execute(JOIN)
        return sum(len(chunk) for chunk in iter(lambda: rows.fetchmany(5000), []))

    def stream() -> int:
        return sum(1 for _ in answers(Keeper(AT), envelopes))

    rules, _ = _timed(evaluate)
    counting, counted = _timed(lambda: totals(Keeper(AT), boxes, envelopes))
    streaming, streamed = _timed(stream)
    joining, joined = _timed(join)
    if not streamed == joined == envelopes.count() or counted.total() != size:
        sys.exit("the rows answered are not the rows there are: the figures are void")
    ours, plain = streamed / streaming, joined / joining
    print(
        f"{size:>12,} {len(found):>8,} {rules:>8.2f}s {counting:>8.2f}s "
        f"{ours:>11,.0f} {plain:>12,.0f} {ours / plain:>7.2f}",
        flush=True,
    )


def _timed(act: Callable[[], Any]) -> tuple[float, Any]:
    begun = time.perf_counter()
    result = act()
    return time.perf_counter() - begun, result


if __name__ == "__main__":
    main()
