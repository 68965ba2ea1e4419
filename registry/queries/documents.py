"""Which scanned papers an actor may see: those of the records in the actor's scope."""

from django.db.models import Q, QuerySet

from registry.models import (
    CaseEvent,
    Certificate,
    Document,
    IncidentStep,
    NoPetitionConfirmation,
    Permission,
    PreservationOrder,
)
from registry.queries.incidents import incidents_of
from registry.rules.powers import Actor, Power, Role

# The records that carry a paper, and the way from each to its election.
_BEARERS = (
    (Permission, "election"),
    (PreservationOrder, "election"),
    (CaseEvent, "case__election"),
    (NoPetitionConfirmation, "contest__election"),
    (Certificate, "batch__election"),
)


def documents_of(actor: Actor) -> QuerySet[Document]:
    """Return the papers the actor may see."""
    rows = Document.objects.all()
    if not actor.may(Power.LOOK_AT_PERMISSIONS):
        return rows.none()
    if actor.role is not Role.LEGAL:
        return rows
    within = Q()
    for bearer, election in _BEARERS:
        papers = bearer._default_manager.filter(
            **{f"{election}__in": actor.elections}
        ).exclude(document=None)
        within |= Q(pk__in=papers.values("document"))
    of_incidents = IncidentStep.objects.filter(incident__in=incidents_of(actor))
    within |= Q(pk__in=of_incidents.exclude(document=None).values("document"))
    return rows.filter(within)
