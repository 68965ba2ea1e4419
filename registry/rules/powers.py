"""Who may do what: five roles, and the scope within which each works.

The separation is the trade's: the custodian keeps, the legal cell watches, the
authority permits, the auditor looks, the administrator sets up; nobody both asks
and permits. (Separation of duties: common practice in custody and finance rules.)
"""

from dataclasses import dataclass, field
from enum import StrEnum


class Role(StrEnum):
    """A post held in the registry."""

    CUSTODIAN = "custodian"
    LEGAL = "legal-officer"
    AUTHORITY = "authority"
    AUDITOR = "auditor"
    ADMINISTRATOR = "administrator"


ROLE_TITLES = {
    Role.CUSTODIAN: "Strong-room custodian",
    Role.LEGAL: "Legal officer",
    Role.AUTHORITY: "Authority desk",
    Role.AUDITOR: "Auditor",
    Role.ADMINISTRATOR: "Administrator",
}


class Power(StrEnum):
    """One thing that a role may do."""

    LOOK = "look at containers and their history"
    SEE_ELECTIONS = "see elections, schedules, calendars and rooms"
    LOOK_AT_CASES = "look at cases and orders"
    LOOK_AT_PERMISSIONS = "look at permissions"
    LOOK_AT_ACCESSES = "see who looked at what"
    LOOK_AT_PEOPLE = "see the people of the registry"
    REPORT = "make retention reports"
    SET_UP = "set up elections, schedules, calendars and rooms"
    APPOINT = "appoint people"
    RECORD_DATES = "record the dates of a contest"
    KEEP = "log, shelve, inspect and hand over containers"
    TAKE_STOCK = "take stock by sample"
    RESOLVE = "resolve discrepancies"
    ENTER_CASES = "enter cases, orders and confirmations"
    RECORD_PERMISSION = "record and countersign permissions"
    OPEN = "open containers under a permission"
    DISPOSE = "dispose of containers under a permission"


_READING = frozenset(
    {
        Power.LOOK,
        Power.SEE_ELECTIONS,
        Power.LOOK_AT_CASES,
        Power.LOOK_AT_PERMISSIONS,
        Power.REPORT,
    }
)

POWERS: dict[Role, frozenset[Power]] = {
    Role.CUSTODIAN: _READING
    | {Power.KEEP, Power.TAKE_STOCK, Power.RESOLVE, Power.OPEN, Power.DISPOSE},
    Role.LEGAL: _READING | {Power.ENTER_CASES, Power.RECORD_DATES},
    Role.AUTHORITY: _READING | {Power.RECORD_PERMISSION, Power.LOOK_AT_PEOPLE},
    # An auditor writes nothing but what their own checks found.
    Role.AUDITOR: _READING
    | {Power.TAKE_STOCK, Power.LOOK_AT_ACCESSES, Power.LOOK_AT_PEOPLE},
    Role.ADMINISTRATOR: frozenset(
        {
            Power.SEE_ELECTIONS,
            Power.SET_UP,
            Power.APPOINT,
            Power.RECORD_DATES,
            Power.LOOK_AT_PEOPLE,
        }
    ),
}


@dataclass(frozen=True)
class Actor:
    """Who acts, from where, and within which scope.

    Attributes:
        rooms: ids of the strong rooms a custodian has charge of.
        elections: ids of the elections a legal officer works for.
        address: the network address, or the terminal's user for a command.
        channel: ``web`` or ``command``.
    """

    person_id: int | None
    username: str
    name: str
    role: Role | None
    rooms: frozenset[int] = field(default_factory=frozenset)
    elections: frozenset[int] = field(default_factory=frozenset)
    address: str = ""
    channel: str = "web"

    @property
    def role_title(self) -> str:
        """The role in plain words."""
        return ROLE_TITLES[self.role] if self.role else "Visitor"

    def may(self, power: Power) -> bool:
        """Tell whether the actor's role has this power at all."""
        return self.role is not None and power in POWERS[self.role]


class PowerMissing(Exception):
    """The actor's role does not allow the act; the message says which."""


def require(actor: Actor, power: Power) -> None:
    """Raise PowerMissing unless the actor's role has the power."""
    if not actor.may(power):
        raise PowerMissing(
            f"{actor.role_title}: this role may not {power}. "
            "Ask somebody whose post allows it."
        )
