"""Where a register number leads: to its own page, or to the page that shows it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from registry import models
from registry.queries.documents import documents_of
from registry.queries.doors import door_sessions_of
from registry.queries.hand_overs import hand_overs_of
from registry.queries.incidents import incidents_of
from registry.queries.rounds import rounds_of
from registry.queries.scope import (
    boxes_of,
    cases_of,
    contests_of,
    discrepancies_of,
    elections_of,
    envelopes_of,
    of_containers_in_scope,
    of_elections_in_scope,
    rooms_of,
    sealings_of,
)
from registry.queries.stock_takes import stock_takes_of
from registry.queries.transfers import transfers_of
from registry.rules.powers import Actor, Power


@dataclass(frozen=True)
class _Kind:
    """Records of one kind: who may see which, and under which number they stand."""

    power: Power
    rows: Callable[[Actor], QuerySet[Any]]
    shown_under: tuple[str, ...] = ("number",)


def _containers(model: Any) -> Callable[[Actor], QuerySet[Any]]:
    return lambda actor: of_containers_in_scope(model.objects.all(), actor)


def _elections(model: Any) -> Callable[[Actor], QuerySet[Any]]:
    return lambda actor: of_elections_in_scope(model.objects.all(), actor)


def _within(model: Any, path: str, scope: Callable[[Actor], Any]) -> Any:
    return lambda actor: model.objects.filter(**{f"{path}__in": scope(actor)})


def _all(model: Any) -> Callable[[Actor], QuerySet[Any]]:
    return lambda actor: model.objects.all()


_ON_CONTAINER = ("box__number", "envelope__number")

# Events of cases and closures of calendars take their numbers from the series of
# what they belong to, hence several kinds under one prefix.
_KINDS: dict[str, tuple[_Kind, ...]] = {
    "BX": (_Kind(Power.LOOK, boxes_of),),
    "EN": (_Kind(Power.LOOK, envelopes_of),),
    "SL": (_Kind(Power.LOOK, _containers(models.Seal), _ON_CONTAINER),),
    "MV": (_Kind(Power.LOOK, _containers(models.CustodyMovement), _ON_CONTAINER),),
    "PD": (_Kind(Power.LOOK, _containers(models.Production)),),
    "DC": (_Kind(Power.LOOK, discrepancies_of),),
    "MI": (
        _Kind(
            Power.LOOK,
            _within(models.MaterialIssue, "contest", contests_of),
            ("contest__number",),
        ),
    ),
    "ME": (
        _Kind(
            Power.LOOK,
            _within(models.MaterialEnd, "issue__contest", contests_of),
            ("issue__contest__number",),
        ),
    ),
    "IN": (_Kind(Power.LOOK, _within(models.Intake, "room", rooms_of)),),
    "EL": (_Kind(Power.SEE_ELECTIONS, elections_of),),
    "CT": (_Kind(Power.SEE_ELECTIONS, contests_of),),
    "ST": (
        _Kind(
            Power.SEE_ELECTIONS,
            _within(models.PollingStation, "contest", contests_of),
            ("contest__number",),
        ),
    ),
    "US": (
        _Kind(
            Power.SEE_ELECTIONS,
            _within(models.UnitSet, "election", elections_of),
            ("station__contest__number",),
        ),
    ),
    "RM": (_Kind(Power.SEE_ELECTIONS, rooms_of),),
    "BY": (
        _Kind(
            Power.SEE_ELECTIONS,
            _within(models.Bay, "room", rooms_of),
            ("room__number",),
        ),
    ),
    "SH": (
        _Kind(
            Power.SEE_ELECTIONS,
            _within(models.Shelf, "bay__room", rooms_of),
        ),
    ),
    "LK": (
        _Kind(
            Power.LOOK,
            _within(models.Lock, "room", rooms_of),
            ("room__number",),
        ),
    ),
    "KY": (_Kind(Power.LOOK, _within(models.Key, "lock__room", rooms_of)),),
    "KH": (
        _Kind(
            Power.LOOK,
            _within(models.KeyHolding, "key__lock__room", rooms_of),
            ("key__number",),
        ),
    ),
    "DR": (_Kind(Power.SEE_ELECTIONS, door_sessions_of),),
    "TF": (_Kind(Power.LOOK, transfers_of),),
    "RS": (_Kind(Power.SEE_ELECTIONS, _all(models.RetentionSchedule)),),
    "CC": (
        _Kind(Power.SEE_ELECTIONS, _all(models.CourtCalendar)),
        _Kind(Power.SEE_ELECTIONS, _all(models.ClosedDays), ("calendar__number",)),
    ),
    "CA": (
        _Kind(Power.LOOK_AT_CASES, cases_of),
        _Kind(
            Power.LOOK_AT_CASES,
            _within(models.CaseEvent, "case", cases_of),
            ("case__number",),
        ),
    ),
    "PO": (_Kind(Power.LOOK_AT_CASES, _elections(models.PreservationOrder)),),
    "NP": (
        _Kind(
            Power.LOOK_AT_CASES,
            _within(models.NoPetitionConfirmation, "contest", contests_of),
            ("contest__number",),
        ),
    ),
    "PM": (_Kind(Power.LOOK_AT_PERMISSIONS, _elections(models.Permission)),),
    "OP": (
        _Kind(
            Power.LOOK_AT_PERMISSIONS,
            _within(models.Opening, "permission__election", elections_of),
            ("permission__number",),
        ),
    ),
    "DS": (_Kind(Power.LOOK_AT_PERMISSIONS, _elections(models.DisposalBatch)),),
    "CF": (
        _Kind(
            Power.LOOK_AT_PERMISSIONS,
            _within(models.Certificate, "batch__election", elections_of),
            ("batch__number",),
        ),
    ),
    "HC": (_Kind(Power.LOOK, hand_overs_of),),
    "SK": (_Kind(Power.LOOK, stock_takes_of),),
    "DO": (_Kind(Power.LOOK_AT_PERMISSIONS, documents_of),),
    "CR": (
        _Kind(
            Power.SEE_ELECTIONS,
            _within(models.ClimateReading, "room", rooms_of),
            ("room__number",),
        ),
    ),
    "IR": (_Kind(Power.LOOK, rounds_of),),
    "IC": (_Kind(Power.LOOK, incidents_of),),
    "SS": (_Kind(Power.LOOK, sealings_of),),
    "PE": (_Kind(Power.LOOK_AT_PEOPLE, _all(models.User)),),
    "PF": (_Kind(Power.LOOK, _within(models.FallbackForm, "room", rooms_of)),),
}


def leads_to(number: str, actor: Actor) -> str | None:
    """Return the register number under which a record is shown to this actor.

    A seal is shown with its container, a bay with its room, a station with its
    contest. None where there is no such record within the actor's scope.

    Args:
        number: a register number in its written form.
    """
    for kind in _KINDS.get(number[:2], ()):
        if not actor.may(kind.power):
            continue
        row = (
            kind.rows(actor)
            .filter(number=number)
            .values_list(*kind.shown_under)
            .first()
        )
        if row is not None:
            return next((str(value) for value in row if value), None)
    return None
