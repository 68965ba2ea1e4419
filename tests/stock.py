"""What must be true of containers whatever was done to them, in whatever order."""

from collections.abc import Iterable

from registry.models import (
    Box,
    ContainerState,
    CustodyMovement,
    Envelope,
    Production,
    Whereabouts,
)
from registry.rules.powers import Actor

OUTSIDE = {Whereabouts.OUT, Whereabouts.KEPT}
ENDED = {ContainerState.SUPERSEDED, ContainerState.DISPOSED}
Container = Box | Envelope


def everything() -> list[Container]:
    """All boxes and envelopes of the register."""
    return [*Box.objects.order_by("id"), *Envelope.objects.order_by("id")]


def must_add_up(containers: Iterable[Container] | None = None) -> None:
    """Check all that holds of any set of containers; of all where none is given.

    Each is at exactly one place and in exactly one person's charge; received less
    superseded less disposed of is what is live.
    """
    found = everything() if containers is None else list(containers)
    for container in found:
        is_at_one_place(container)
        is_in_one_charge(container)
    live = sum(c.state not in ENDED for c in found)
    ended = sum(c.state in ENDED for c in found)
    entered = sum(_entered(c) for c in found)
    assert entered - ended == live, (entered, ended, live)


def is_at_one_place(container: Container) -> None:
    """A container is where its whereabouts say, and nowhere else."""
    at, name = Whereabouts(container.whereabouts), container.number
    assert (at is Whereabouts.GONE) == (container.state == "disposed"), name
    assert (at is Whereabouts.REPLACED) == (container.state == "superseded"), name
    if isinstance(container, Box):
        assert at is not Whereabouts.IN_BOX, name
        if at is Whereabouts.SHELVED:
            assert container.shelf, name
            assert container.shelf.bay.room_id == container.room_id, name
        elif at is not Whereabouts.MISSING:
            # What is missing keeps the shelf from which it is missing.
            assert at is Whereabouts.INTAKE or container.shelf is None, name
    else:
        assert at is not Whereabouts.SHELVED, name
        if at is Whereabouts.IN_BOX:
            assert container.box, name
            assert container.box.state != "superseded", name
        elif at in OUTSIDE | {Whereabouts.REPLACED}:
            assert container.box is None, name
    open_ones = _productions(container).filter(returned__isnull=True).count()
    assert open_ones <= 1, name
    if at in OUTSIDE:
        assert open_ones == 1, f"{name} is outside under no order"
    elif at is not Whereabouts.MISSING:
        assert open_ones == 0, f"{name} is here, and out at the same time"


def is_in_one_charge(container: Container) -> None:
    """Its movements, as entered, name one holder after another without a break."""
    moves = list(container.movements.order_by("id"))
    assert moves, f"{container.number} came from nowhere"
    first = {CustodyMovement.Act.RECEIVED, CustodyMovement.Act.REPLACED}
    assert moves[0].act in first, container.number
    assert holder(container), container.number


def holder(container: Container) -> str:
    """Who answers for a container by its last movement that names somebody."""
    named = container.movements.exclude(to_person="").order_by("-id").first()
    return named.to_person if named else ""


def live(actor: Actor) -> list[Container]:
    """What is neither superseded nor disposed of in the actor's rooms."""
    return [
        c for c in everything() if c.state not in ENDED and c.room_id in actor.rooms
    ]


def _entered(container: Container) -> int:
    acts = [m.act for m in container.movements.all()]
    came = acts.count(CustodyMovement.Act.RECEIVED)
    instead = 1 if container.supersedes_id else 0
    assert came + instead == 1, f"{container.number} came in {came + instead} times"
    return came + instead


def _productions(container: Container):
    name = "box" if isinstance(container, Box) else "envelope"
    return Production.objects.filter(**{name: container})
