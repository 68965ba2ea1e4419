"""What every page knows: who is logged in and where that person may go."""

from django.http import HttpRequest
from django.urls import reverse

from registry.rules.powers import Actor, Power

# Label, name of the address, and the power without which it is not shown.
NAVIGATION = (
    ("Desk", "desk", None),
    ("Intake", "intake", Power.KEEP),
    ("Boxes", "boxes", Power.LOOK),
    ("Envelopes", "envelopes", Power.LOOK),
    ("Discrepancies", "discrepancies", Power.LOOK),
    ("Cases", "cases", Power.LOOK_AT_CASES),
    ("Permissions", "permissions", Power.LOOK_AT_PERMISSIONS),
    ("Disposals", "disposals", Power.LOOK_AT_PERMISSIONS),
    ("Report", "retention-report", Power.REPORT),
    ("Elections", "elections", Power.SEE_ELECTIONS),
    ("Rooms", "rooms", Power.SEE_ELECTIONS),
    ("Schedules", "schedules", Power.SEE_ELECTIONS),
    ("People", "people", Power.LOOK_AT_PEOPLE),
    ("Accesses", "accesses", Power.LOOK_AT_ACCESSES),
)

# Addresses that belong to a tab without beginning like it.
ALSO_UNDER = {
    "schedules": ("/calendars/",),
    "cases": ("/orders/", "/confirmations/"),
    "elections": ("/contests/",),
}


def registry(request: HttpRequest) -> dict[str, object]:
    """Give templates the actor and the navigation."""
    actor: Actor | None = getattr(request, "actor", None)
    if actor is None:
        return {"actor": None, "nav": []}
    nav = []
    for label, name, power in NAVIGATION:
        if power is None or actor.may(power):
            url = reverse(name)
            under = (url, *ALSO_UNDER.get(name, ()))
            here = request.path == url or (
                url != "/" and request.path.startswith(under)
            )
            nav.append((label, url, here))
    return {"actor": actor, "nav": nav}
