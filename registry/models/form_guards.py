"""Triggers of the paper forms: each number printed is accounted for, once."""

from collections.abc import Iterator

from registry.models.triggers import Guard, differ


def form_guards() -> Iterator[Guard]:
    """A number that was accounted for stays so, and nothing more is entered from it."""
    printed = ("number", "kind", "room_id", "printed_at", "printed_by_id")
    yield Guard(
        "registry_fallbackform_printed_once",
        "registry_fallbackform",
        "UPDATE",
        differ(printed),
        "registry_fallbackform: what was printed stays as it was printed",
    )
    yield Guard(
        "registry_fallbackform_stays_ended",
        "registry_fallbackform",
        "UPDATE",
        "OLD.state IN ('entered', 'spoilt', 'returned') "
        f"AND ({differ(('state', 'ended_at', 'ended_by_id'))})",
        "registry_fallbackform: a form that is accounted for stays so",
    )
    yield Guard(
        "registry_fallbackuse_of_an_open_form",
        "registry_fallbackuse",
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM registry_fallbackform f WHERE f.id = NEW.form_id "
        "AND f.state IN ('blank', 'in-entry'))",
        "registry_fallbackuse: nothing is entered from a form accounted for",
    )
