"""Triggers about what is on the way from one strong room to another."""

from collections.abc import Iterator

from registry.models.triggers import Guard

_SENT = {
    "box": "EXISTS (SELECT 1 FROM registry_transferitem i WHERE i.box_id = NEW.id "
    "AND i.outcome IN ('on-the-way', 'not-arrived'))",
    "envelope": "EXISTS (SELECT 1 FROM registry_transferitem i "
    "WHERE i.envelope_id = NEW.id AND i.outcome IN ('on-the-way', 'not-arrived'))",
}


def transfer_guards() -> Iterator[Guard]:
    """What is on the way is on the way by a transfer; what was taken over stays so."""
    for noun, sent in _SENT.items():
        for event in ("INSERT", "UPDATE"):
            yield Guard(
                f"registry_{noun}_on_way_{event.lower()}",
                f"registry_{noun}",
                event,
                f"NEW.whereabouts = 'on-way' AND NOT {sent}",
                f"registry_{noun}: on the way without a transfer",
                reads=("registry_transferitem",),
            )
    yield Guard(
        "registry_transferitem_ends_once",
        "registry_transferitem",
        "UPDATE",
        "OLD.outcome IN ('taken-over', 'came-back')",
        "registry_transferitem: what was taken over, or came back, stays so",
    )
