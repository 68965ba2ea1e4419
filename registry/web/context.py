"""What every page knows: who is logged in and where that person may go."""

from django.http import HttpRequest
from django.urls import reverse

from registry.rules.powers import Actor, Power

# Group, label, name of the address, and the power without which it is not shown.
NAVIGATION = (
    ("Desk", "Desk", "desk", None),
    ("Coming in", "Intake", "intake", Power.KEEP),
    ("Coming in", "Sealing table", "sealing", Power.KEEP),
    ("Coming in", "Scan", "scan", Power.KEEP),
    ("Coming in", "Labels", "labels-choose", Power.KEEP),
    ("Coming in", "Paper forms", "paper-forms", Power.LOOK),
    ("Coming in", "Materials", "materials-list", Power.LOOK),
    ("Holdings", "Boxes", "boxes", Power.LOOK),
    ("Holdings", "Envelopes", "envelopes", Power.LOOK),
    ("Holdings", "Discrepancies", "discrepancies", Power.LOOK),
    ("Holdings", "Reconciliation", "reconciliations", Power.LOOK),
    ("Strong rooms", "Rooms", "rooms", Power.SEE_ELECTIONS),
    ("Strong rooms", "Put away", "put-away", Power.KEEP),
    ("Strong rooms", "Doors", "doors", Power.LOOK),
    ("Strong rooms", "Keys", "keys", Power.LOOK),
    ("Strong rooms", "Rounds", "rounds", Power.LOOK),
    ("Strong rooms", "Climate", "climate", Power.SEE_ELECTIONS),
    ("Strong rooms", "Out and back", "movements", Power.LOOK),
    ("Strong rooms", "Transfers", "transfers", Power.LOOK),
    ("Strong rooms", "Incidents", "incidents", Power.LOOK),
    ("Strong rooms", "Stock-taking", "stock-takes", Power.TAKE_STOCK),
    ("Strong rooms", "Hand-over", "hand-overs", Power.LOOK),
    ("Law", "Cases", "cases", Power.LOOK_AT_CASES),
    ("Law", "Images at risk", "images-at-risk", Power.LOOK_AT_CASES),
    ("Law", "Permissions", "permissions", Power.LOOK_AT_PERMISSIONS),
    ("Law", "Disposals", "disposals", Power.LOOK_AT_PERMISSIONS),
    ("Reports", "Retention", "retention-report", Power.REPORT),
    ("Reports", "Stock account", "stock-account", Power.REPORT),
    ("Reports", "Custody", "custody", Power.REPORT),
    ("Reports", "Accesses", "accesses", Power.LOOK_AT_ACCESSES),
    ("Set-up", "Elections", "elections", Power.SEE_ELECTIONS),
    ("Set-up", "Schedules", "schedules", Power.SEE_ELECTIONS),
    ("Set-up", "People", "people", Power.LOOK_AT_PEOPLE),
)

# Addresses that belong to a tab without beginning like it.
ALSO_UNDER = {
    "schedules": ("/calendars/",),
    "cases": ("/orders/", "/confirmations/"),
    "elections": ("/contests/",),
    "rooms": ("/shelves/",),
    "labels-choose": ("/labels/",),
    "keys": ("/locks/",),
}

# Addresses that begin like one tab and belong to another by a part within them.
BY_PART = {
    "/reconciliation/": "reconciliations",
    "/votes/": "reconciliations",
    "/materials/": "materials-list",
    "/keys/": "keys",
    "/locks/fit/": "keys",
    "/door-log/": "doors",
}


def registry(request: HttpRequest) -> dict[str, object]:
    """Give templates the actor and the navigation."""
    actor: Actor | None = getattr(request, "actor", None)
    if actor is None:
        return {"actor": None, "nav": []}
    nav: dict[str, list[tuple[str, str, bool]]] = {}
    for group, label, name, power in NAVIGATION:
        if power is None or actor.may(power):
            url = reverse(name)
            nav.setdefault(group, []).append((label, url, _is_here(request, name, url)))
    groups = [
        (group, parts[0][1], any(here for _, _, here in parts), parts)
        for group, parts in nav.items()
    ]
    return {"actor": actor, "nav": groups}


def _is_here(request: HttpRequest, name: str, url: str) -> bool:
    for part, tab in BY_PART.items():
        if part in request.path:
            return name == tab
    under = (url, *ALSO_UNDER.get(name, ()))
    return request.path == url or (url != "/" and request.path.startswith(under))
