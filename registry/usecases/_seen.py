"""Whether a container stands as the person who moves it saw it on the page."""

from django.db.models import QuerySet

from registry.models import Box, CustodyMovement, Envelope
from registry.queries.find import the
from registry.queries.keeping import legal_zone
from registry.usecases._door import Refused


def last_movement_of(
    container: Box | Envelope, *, with_contents: bool = False
) -> CustodyMovement | None:
    """Return the movement that was recorded last.

    Args:
        with_contents: those of what lies in a box as well.
    """
    return _movements(container, with_contents).order_by("-id").first()


def seen_of(container: Box | Envelope) -> str:
    """Return what a page carries, so that the act can tell what its reader saw."""
    last = last_movement_of(container, with_contents=True)
    return last.number if last else ""


def refuse_if_moved(
    container: Box | Envelope, as_seen: str, *, with_contents: bool = False
) -> None:
    """Raise Refused where a container was moved since a page was shown.

    The caller holds the container's lock. Movements take their numbers one after the
    other, under a lock of their own, so that a later one has the greater id.

    Args:
        as_seen: number of the last movement that the page knew of; empty where the
            act was not prepared on a page.
        with_contents: what was put into a box meanwhile counts as well.

    Raises:
        Refused: who moved it, when and whereto, beside what the page said.
    """
    if not as_seen:
        return
    seen = the(CustodyMovement.objects.all(), as_seen, "movement")
    rows = _movements(container, with_contents).filter(id__gt=seen.pk)
    later = list(rows.select_related("recorded_by", "box", "envelope").order_by("id"))
    if not later:
        return
    own = _movements(container, False).filter(id__lte=seen.pk).order_by("-id").first()
    was = _told(own, container) if own else "nothing was on record"
    raise Refused(
        f"{container.number} was moved while your page was open. "
        f"On your page: {was}. "
        f"Meanwhile: {'; then '.join(_told(each, container) for each in later)}. "
        "Nothing was recorded: look where it is, open the page again and decide anew."
    )


def _movements(
    container: Box | Envelope, with_contents: bool
) -> QuerySet[CustodyMovement]:
    if isinstance(container, Envelope):
        return CustodyMovement.objects.filter(envelope=container)
    own = CustodyMovement.objects.filter(box=container)
    if with_contents:
        return own | CustodyMovement.objects.filter(envelope__box=container)
    return own


def _told(movement: CustodyMovement, container: Box | Envelope) -> str:
    """Return one movement in words: who did what, when and whereto."""
    zone = legal_zone(container.election)
    when = movement.recorded_at.astimezone(zone)
    who = movement.recorded_by.name if movement.recorded_by else "a terminal"
    about = movement.box or movement.envelope
    what = "" if about == container or about is None else f"{about.number} "
    whereto = ", ".join(filter(None, [movement.to_person, movement.to_place]))
    told = f"{what}{movement.get_act_display()}"
    if whereto:
        told += f", to {whereto}"
    return f"{told} ({who}, {when:%-d %B %Y at %H:%M:%S} {zone.key})"
