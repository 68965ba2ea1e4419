"""Open incidents, by what they touch: everything they touch is held."""

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Exists, OuterRef, Q, QuerySet

from registry.models import Box, Envelope, Incident, IncidentItem, IncidentStep
from registry.rules.disposal_facts import IncidentFact
from registry.rules.powers import Actor, Power, Role

# What an incident touches: ("box", id), ("envelope", id) or ("room", id).
Touched = tuple[str, int]


def incidents_of(actor: Actor) -> QuerySet[Incident]:
    """Return the incidents the actor may see.

    A legal officer sees those that touch a container of an election of theirs.
    """
    rows = Incident.objects.all()
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(room_id__in=actor.rooms)
    if actor.role is Role.LEGAL:
        theirs = IncidentItem.objects.filter(
            Q(box__election_id__in=actor.elections)
            | Q(envelope__election_id__in=actor.elections),
            incident=OuterRef("pk"),
        )
        return rows.filter(Exists(theirs))
    return rows


def incidents_by_touched(
    boxes: Iterable[int], envelopes: Iterable[int], rooms: Iterable[int]
) -> dict[Touched, list[IncidentFact]]:
    """Return the open incidents that touch these, each asked for once.

    Args:
        boxes, envelopes: ids of containers that an incident may name.
        rooms: ids of rooms that an incident may cover as a whole.
    """
    open_rows = Incident.objects.filter(closed_at__isnull=True).annotate(
        directed=Exists(
            IncidentStep.objects.filter(
                incident=OuterRef("pk"), act=IncidentStep.Act.DIRECTED
            )
        )
    )
    facts: dict[int, IncidentFact] = {}
    touched: dict[Touched, list[IncidentFact]] = defaultdict(list)
    for row in open_rows.order_by("id"):
        title = row.get_kind_display()
        facts[row.pk] = IncidentFact(row.number, title, row.directed)
        if row.whole_room and row.room_id in set(rooms):
            touched["room", row.room_id].append(facts[row.pk])
    if not facts:
        return touched
    items = IncidentItem.objects.filter(incident__closed_at__isnull=True).filter(
        Q(box__in=list(boxes)) | Q(envelope__in=list(envelopes))
    )
    for incident, box, envelope in items.order_by("id").values_list(
        "incident_id", "box_id", "envelope_id"
    ):
        if incident in facts:
            key = ("box", box) if box else ("envelope", envelope or 0)
            touched[key].append(facts[incident])
    return touched


def incidents_on(container: Box | Envelope) -> tuple[IncidentFact, ...]:
    """Return the open incidents that hold one container, its box or its room."""
    boxes, envelopes = [], []
    if isinstance(container, Box):
        boxes = [container.pk]
    else:
        envelopes = [container.pk]
        boxes = [container.box_id] if container.box_id else []
    found = incidents_by_touched(boxes, envelopes, [container.room_id])
    return once_each(incident for facts in found.values() for incident in facts)


def once_each(incidents: Iterable[IncidentFact]) -> tuple[IncidentFact, ...]:
    """Return each incident once, in the order in which it came."""
    return tuple({each.number: each for each in incidents}.values())
