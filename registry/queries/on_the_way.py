"""What is on the way to a room: its keepers see it before they take it over."""

from collections.abc import Iterable

from django.db.models import Model, Q

from registry.models import Box, TransferItem

# A container for which the carrier still answers.
OPEN = (TransferItem.Outcome.ON_THE_WAY, TransferItem.Outcome.NOT_ARRIVED)


def coming_to(model: type[Model], rooms: Iterable[int]) -> Q:
    """Return which boxes, or which envelopes, are on the way to these rooms.

    Envelopes come alone, or in a box that comes.
    """
    items = TransferItem.objects.filter(
        outcome__in=OPEN, transfer__to_room_id__in=list(rooms)
    )
    boxes = items.filter(box__isnull=False).values("box_id")
    if model is Box:
        return Q(pk__in=boxes)
    envelopes = items.filter(envelope__isnull=False).values("envelope_id")
    return Q(pk__in=envelopes) | Q(box_id__in=boxes)


def attached_to_what_comes(rooms: Iterable[int]) -> Q:
    """Return which rows with a ``box`` or an ``envelope`` belong to what comes."""
    items = TransferItem.objects.filter(
        outcome__in=OPEN, transfer__to_room_id__in=list(rooms)
    )
    boxes = items.filter(box__isnull=False).values("box_id")
    envelopes = items.filter(envelope__isnull=False).values("envelope_id")
    return (
        Q(box_id__in=boxes)
        | Q(envelope_id__in=envelopes)
        | Q(envelope__box_id__in=boxes)
    )
