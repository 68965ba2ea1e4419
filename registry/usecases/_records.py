"""Entering records: each gets its register number and its first history row."""

from collections.abc import Sequence
from itertools import islice
from typing import TypeVar

from django.db import models
from simple_history.utils import bulk_create_with_history

from registry import models as records
from registry.models import NumberSeries, act_in_hand
from registry.rules import numbers

PREFIXES: dict[type[models.Model], str] = {
    records.User: "PE",
    records.RetentionSchedule: "RS",
    records.CourtCalendar: "CC",
    records.ClosedDays: "CC",
    records.LimitExtension: "CC",
    records.ScheduleChange: "RS",
    records.CaseLink: "CA",
    records.Election: "EL",
    records.Contest: "CT",
    records.PollingStation: "ST",
    records.UnitSet: "US",
    records.StrongRoom: "RM",
    records.Bay: "BY",
    records.Shelf: "SH",
    records.Envelope: "EN",
    records.Box: "BX",
    records.Seal: "SL",
    records.Discrepancy: "DC",
    records.Intake: "IN",
    records.CustodyMovement: "MV",
    records.Document: "DO",
    records.Case: "CA",
    records.CaseEvent: "CA",
    records.PreservationOrder: "PO",
    records.NoPetitionConfirmation: "NP",
    records.Permission: "PM",
    records.Opening: "OP",
    records.DisposalBatch: "DS",
    records.Certificate: "CF",
    records.StationSealing: "SS",
    records.Lock: "LK",
    records.Key: "KY",
    records.KeyHolding: "KH",
    records.DoorSession: "DR",
    records.FallbackForm: "PF",
    records.MaterialIssue: "MI",
    records.MaterialEnd: "ME",
    records.Production: "PD",
    records.Transfer: "TF",
    records.InspectionRound: "IR",
    records.ClimateReading: "CR",
    records.StockTake: "SK",
    records.ChargeHandOver: "HC",
    records.Incident: "IC",
}

Entered = TypeVar("Entered", bound=models.Model)


def next_numbers(prefix: str, count: int) -> list[str]:
    """Take the next register numbers of a kind; two takers never get the same."""
    series, _ = NumberSeries.objects.select_for_update().get_or_create(prefix=prefix)
    taken = list(islice(numbers.numbers_after(prefix, series.last), count))
    if taken:
        series.last = taken[-1][0]
        series.save(update_fields=["last"])
    return [number for _, number in taken]


def enter(record: Entered) -> Entered:
    """Give a new record its number and save it, history included."""
    record.number = next_numbers(PREFIXES[type(record)], 1)[0]  # type: ignore[attr-defined]
    record.save(force_insert=True)
    return record


def enter_many(new: Sequence[Entered], batch_size: int = 500) -> list[Entered]:
    """Enter many records of one kind, each with its number and its history row."""
    if not new:
        return []
    kind = type(new[0])
    if kind in PREFIXES:
        for record, number in zip(
            new, next_numbers(PREFIXES[kind], len(new)), strict=True
        ):
            record.number = number  # type: ignore[attr-defined]
    act = act_in_hand.get()
    if act is None:
        raise records.NoActInHand("Records are entered only by a use case.")
    user = records.User(pk=act.person_id) if act.person_id else None
    entered: list[Entered] = bulk_create_with_history(
        list(new),
        kind,
        batch_size=batch_size,
        default_user=user,
        default_change_reason=act.name,
        default_date=act.at,
    )
    return entered
