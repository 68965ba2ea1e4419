"""The desk of each role: what wants doing today."""

from collections.abc import Callable, Iterator
from datetime import date, datetime

from registry.queries.desk_day import day_at_desk
from registry.queries.desk_of_doors import doors_and_keys, to_confirm
from registry.queries.desk_of_forms import forms_waiting
from registry.queries.desk_of_hand_overs import hand_overs_waiting
from registry.queries.desk_of_law import legal_cells_desk
from registry.queries.desk_of_movements import movements_desk
from registry.queries.desk_of_transfers import (
    orders_for_transfers_waiting,
    transfers_waiting,
)
from registry.queries.desks import Waiting, authoritys_desk, custodians_desk
from registry.queries.desks_of_accounts import accounts_waiting
from registry.queries.desks_of_oversight import administrators_desk, auditors_desk
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import note_access, usecase

__all__ = ["Waiting", "look_at_desk"]

_Part = Callable[[Actor, date, datetime], Iterator[Waiting]]
_DESKS: dict[Role, tuple[_Part, ...]] = {
    Role.CUSTODIAN: (
        custodians_desk,
        forms_waiting,
        hand_overs_waiting,
        doors_and_keys,
        movements_desk,
        transfers_waiting,
        accounts_waiting,
    ),
    Role.LEGAL: (legal_cells_desk, to_confirm, movements_desk),
    Role.AUTHORITY: (authoritys_desk, to_confirm, orders_for_transfers_waiting),
    Role.AUDITOR: (auditors_desk,),
    Role.ADMINISTRATOR: (administrators_desk,),
}
# What presses most stands first; within that the order of the desk stays.
_PRESSING = {"stop": 0, "wait": 1, "plain": 2, "clear": 3, "ended": 4}


@usecase("desk.look", power=Power.SEE_ELECTIONS)
def look_at_desk(*, actor: Actor, at: datetime) -> tuple[Waiting, ...]:
    """Return what wants doing at the actor's desk, the most pressing first.

    The day is that of the first election's law, since a desk has one day.
    """
    assert actor.role is not None
    on = day_at_desk(actor, at)
    waiting = [one for part in _DESKS[actor.role] for one in part(actor, on, at)]
    waiting.sort(key=lambda one: _PRESSING.get(one.tone, 2))
    note_access(waiting=len(waiting))
    return tuple(waiting)
