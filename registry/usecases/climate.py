"""The climate of strong rooms: read, recorded, and told where it is out of limits."""

from datetime import date, datetime
from decimal import Decimal

from registry.models import ClimateReading, Discrepancy
from registry.queries.climate import (
    ClimateFile,
    climate_file,
    limits_of,
    reading_fact,
)
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.round_dues import round_rules_of
from registry.queries.scope import rooms_of
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.climate import IN_A_ROW, faults_of, stays_out
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._recording import discrepancy
from registry.usecases._records import enter

__all__ = ["ClimateFile", "list_climate", "look_at_climate", "record_reading"]

# A word by which the open finding of a room's climate is found again.
FINDING = "Climate out of limits"


@usecase("climate.record", power=Power.KEEP, subject="room")
def record_reading(
    *,
    room: str,
    temperature_c: Decimal,
    humidity_percent: Decimal,
    taken_at: datetime | None = None,
    instrument: str = "",
    note: str = "",
    actor: Actor,
    at: datetime,
) -> tuple[str, ...]:
    """Record the climate of a room; returns in which ways it is out of limits.

    Two readings in a row out of limits open a discrepancy of the room, once.

    Args:
        taken_at: when it was read, where it was noted on paper first.
    """
    of = the(rooms_of(actor).select_for_update(), room, "strong room")
    read_at = taken_at or at
    problems = {}
    if read_at > at:
        problems["taken_at"] = ["This moment has not come yet."]
    if not -60 <= temperature_c <= 80:
        problems["temperature_c"] = ["Give degrees Celsius, between -60 and 80."]
    if not 0 <= humidity_percent <= 100:
        problems["humidity_percent"] = ["Give per cent, between 0 and 100."]
    for name, text, longest in (("instrument", instrument, 120), ("note", note, 400)):
        if len(text.strip()) > longest:
            problems[name] = [f"Shorten this to {longest} characters."]
    if problems:
        raise Mistaken(problems)
    row = enter(
        ClimateReading(
            room=of,
            taken_at=read_at,
            temperature_c=temperature_c,
            humidity_percent=humidity_percent,
            instrument=instrument.strip(),
            note=note.strip(),
            recorded_at=at,
            recorded_by_id=actor.person_id,  # type: ignore[misc] # a custodian: KEEP
        )
    )
    limits = limits_of(of)
    faults = faults_of(reading_fact(row), limits)
    earlier = of.climate_readings.filter(taken_at__lte=read_at)
    last = [reading_fact(each) for each in earlier.order_by("-taken_at", "-id")[:9]]
    known = Discrepancy.objects.filter(
        room=of, detail__startswith=FINDING, resolved_at__isnull=True
    )
    if faults and stays_out(last, limits) and not known.exists():
        detail = f"{FINDING} in {IN_A_ROW} readings in a row: {'; '.join(faults)}."
        problem = Problem(
            DiscrepancyKind.OTHER,
            written=f"{temperature_c} °C, {humidity_percent} %",
            expected=f"{limits.lowest_c} to {limits.highest_c} °C, "
            f"{limits.lowest_humidity} to {limits.highest_humidity} %",
            detail=detail,
        )
        enter(discrepancy(of, problem, at))
    note_access(of.number, reading=row.number, faults=len(faults))
    return faults


@usecase("climate.look", power=Power.SEE_ELECTIONS, subject="room")
def look_at_climate(*, room: str, actor: Actor, at: datetime) -> ClimateFile:
    """Open the page of a room's climate."""
    of = the(rooms_of(actor), room, "strong room")
    note_access(of.number)
    return _file(of.number, actor, day_at_desk(actor, at), at)


@usecase("climate.list", power=Power.SEE_ELECTIONS)
def list_climate(*, actor: Actor, at: datetime) -> tuple[ClimateFile, ...]:
    """List the rooms with their last readings."""
    numbers = rooms_of(actor).order_by("id").values_list("number", flat=True)
    on = day_at_desk(actor, at)
    return tuple(_file(number, actor, on, at) for number in numbers)


def _file(number: str, actor: Actor, on: date, at: datetime) -> ClimateFile:
    of = the(rooms_of(actor), number, "strong room")
    return climate_file(of, round_rules_of(of).climate_every_days, on, at)
