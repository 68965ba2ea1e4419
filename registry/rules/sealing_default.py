"""The checklist of the house, for schedules that name none.

Common practice, no published source: what custody of election papers does at such a
table, in the order in which hands do it. A schedule's own checklist takes its place
whole.
"""

from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import (
    Asked,
    SealingFact,
    SealingPlace,
    SealingStep,
)

_SLIPS = frozenset({ContentKind.POLL_SLIPS})


def _unit(
    name: str,
    title: str,
    asked: Asked,
    records: SealingFact = SealingFact.NONE,
    caution: str = "",
) -> SealingStep:
    where = SealingPlace.UNIT_SET
    return SealingStep(name, title, where, asked, records, caution=caution)


def _envelope(
    name: str,
    title: str,
    asked: Asked,
    records: SealingFact = SealingFact.NONE,
    *,
    required: bool = True,
    caution: str = "",
    help: str = "",
) -> SealingStep:
    return SealingStep(
        name,
        title,
        SealingPlace.ENVELOPE,
        asked,
        records,
        required=required,
        classes=_SLIPS,
        caution=caution,
        help=help,
    )


DEFAULT_STEPS: tuple[SealingStep, ...] = (
    _unit("tag", "Address tag of the unit", Asked.SCAN, SealingFact.STATION_TAG),
    _unit("control-unit", "Control unit", Asked.SCAN, SealingFact.CONTROL_UNIT),
    _unit(
        "paper-trail-unit",
        "Paper-trail unit",
        Asked.SCAN,
        SealingFact.PAPER_TRAIL_UNIT,
    ),
    _unit(
        "power-pack",
        "Power packs taken out of the units",
        Asked.TICK,
        SealingFact.POWER_PACK,
        caution="storing-units",
    ),
    _unit("slips-out", "Slips taken out", Asked.TICK),
    _unit("shown-empty", "Unit shown empty", Asked.TICK, SealingFact.UNIT_EMPTY),
    _envelope(
        "uncut",
        "Slips hanging uncut, set aside and not counted",
        Asked.COUNT,
        SealingFact.UNCUT_COUNT,
        help="0 where there is none.",
    ),
    _envelope("slips", "Slips", Asked.COUNT, SealingFact.SLIP_COUNT),
    _envelope(
        "self-test", "Self-test reports", Asked.COUNT, SealingFact.SELF_TEST_COUNT
    ),
    _unit(
        "votes",
        "Votes shown by the control unit",
        Asked.COUNT,
        SealingFact.VOTES_RECORDED,
    ),
    _envelope(
        "paper", "Paper of the slips", Asked.PAPER, SealingFact.PAPER, required=False
    ),
    _envelope("marked", "Envelope marked as shown, and closed", Asked.TICK),
    _envelope(
        "seal",
        "Number of the envelope’s wax seal",
        Asked.SCAN,
        SealingFact.ENVELOPE_SEAL,
        caution="sealing",
    ),
    _envelope(
        "die",
        "Office that owns the die",
        Asked.TEXT,
        SealingFact.SEAL_MAKER,
        required=False,
    ),
    _envelope(
        "box",
        "Box into which it is put",
        Asked.SCAN,
        SealingFact.BOX,
        required=False,
        help="An open box; it is kept for the next station.",
    ),
    SealingStep(
        "waste",
        "Waste of the table looked through by two persons",
        SealingPlace.STATION,
        Asked.TICK,
    ),
    SealingStep(
        "box-marked", "Box marked with its stations", SealingPlace.BOX, Asked.TICK
    ),
    SealingStep(
        "box-sealed",
        "Box closed with numbered paper seals",
        SealingPlace.BOX,
        Asked.SCAN,
        SealingFact.BOX_SEAL,
        caution="lifting",
    ),
    SealingStep(
        "box-signed",
        "Seals signed by those present",
        SealingPlace.BOX,
        Asked.TICK,
        SealingFact.SIGNED,
    ),
)
