"""Who a command acts as: the person named with ``--as``, else the terminal."""

import getpass

from registry.management.base import WrongUsage
from registry.rules.powers import Actor, Role
from registry.usecases.people import person_by_username, terminal


def acting(username: str | None, role: Role) -> Actor:
    """Return the person of this log-in name; without one, the terminal in a role.

    Raises:
        WrongUsage: nobody with an appointment logs in under the name.
    """
    account = getpass.getuser()
    if not username:
        return terminal(role, account=account)
    actor = person_by_username(username, address=account, channel="command")
    if actor is None:
        raise WrongUsage(f"Nobody with an appointment logs in as {username}.")
    return actor
