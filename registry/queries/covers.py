"""The chain of envelopes or boxes in which the same content lay, one after another."""

from collections.abc import Sequence

from registry.models import Box, ContainerState, Envelope
from registry.queries.container_shapes import TONES, CoverRow


def chain_of(container: Box | Envelope) -> list[Box | Envelope]:
    """Return all that superseded each other, the first one first, this one included."""
    kind = type(container)
    chain: list[Box | Envelope] = [container]
    while chain[0].supersedes_id:
        chain.insert(0, kind.objects.get(pk=chain[0].supersedes_id))
    while later := kind.objects.filter(supersedes=chain[-1].pk).first():
        chain.append(later)
    return chain


def cover_rows(
    chain: Sequence[Box | Envelope], this: Box | Envelope
) -> tuple[CoverRow, ...]:
    """Return a chain as pages show it; nothing where there is one cover only."""
    if len(chain) < 2:
        return ()
    return tuple(
        CoverRow(
            number=each.number,
            noun="box" if isinstance(each, Box) else "envelope",
            state=each.get_state_display(),
            tone=TONES[ContainerState(each.state)],
            sealed_on=each.sealed_on,
            is_this=each.pk == this.pk,
        )
        for each in chain
    )


def old_covers(container: Box | Envelope) -> list[str]:
    """Return the numbers of the covers that went before this one, the first first."""
    chain = chain_of(container)
    own = next(i for i, each in enumerate(chain) if each.pk == container.pk)
    return [each.number for each in chain[:own]]
