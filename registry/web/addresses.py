"""The page of a register number."""

from django.urls import reverse

# A number without a page of its own is shown with what it belongs to; the use case
# that finds it has worked out which.
PAGES = {
    "BX": "box",
    "EN": "envelope",
    "EL": "election",
    "CT": "contest",
    "RM": "room",
    "SH": "shelf",
    "TF": "transfer",
    "RS": "schedule",
    "CC": "calendar",
    "PE": "person",
    "CA": "case",
    "PO": "order",
    "PM": "permission",
    "DS": "disposal",
    "PD": "production",
    "DC": "discrepancy",
    "DO": "document",
    "IN": "intake-page",
    "IC": "incident",
    "SK": "stock-take",
    "HC": "hand-over-page",
    "PF": "paper-form",
    "SS": "sealing-station",
    "IR": "round",
    "DR": "door",
    "KY": "key",
}


def address_of(number: str) -> str:
    """Return the address of a record's page; empty where it has none."""
    name = PAGES.get(number[:2])
    return reverse(name, args=[number]) if name else ""
