"""What every act under a permission begins with: what it acts on, held fast."""

from collections.abc import Sequence

from registry.models import Box, Envelope, Permission
from registry.queries.find import the
from registry.queries.scope import of_elections_in_scope
from registry.rules.powers import Actor
from registry.usecases._covers import lock_contests
from registry.usecases.boxes import container_of


def locked_containers(actor: Actor, numbers: Sequence[str]) -> list[Box | Envelope]:
    """Lock the contests and the containers, so that they are judged as they are now.

    Always in the same order, so that two who act on the same ones wait for each other
    instead of for ever; each is returned once.
    """
    found = {of.number: of for of in (container_of(actor, n) for n in numbers)}
    lock_contests([of.contest for of in found.values() if of.contest])
    locked: list[Box | Envelope] = []
    for number in sorted(found):
        rows = type(found[number]).objects.select_for_update(of=("self",))
        locked.append(
            rows.select_related("election", "contest__election", "room").get(
                pk=found[number].pk
            )
        )
    return locked


def locked_container(actor: Actor, number: str) -> Box | Envelope:
    """Lock one container and its contest."""
    return locked_containers(actor, [number])[0]


def locked_permission(number: str, actor: Actor) -> Permission:
    """Lock a permission, so that it is not revoked meanwhile."""
    rows = of_elections_in_scope(Permission.objects.select_for_update(), actor)
    return the(rows, number, "permission")
