"""What a schedule says of the daily keeping, in plain words, clause by clause."""

from collections.abc import Iterable

from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import (
    Asked,
    ClimateLimits,
    KeepingRules,
    PaperLife,
    RoundRules,
    SealingFact,
    SealingPlace,
    SealingStep,
)
from registry.rules.wording import KIND_NAMES, span

Line = tuple[tuple[str, ...], str]

_PLACES = {
    SealingPlace.UNIT_SET: "of each unit set",
    SealingPlace.ENVELOPE: "of each envelope",
    SealingPlace.STATION: "of the station",
    SealingPlace.BOX: "of the box",
}
_ASKED = {
    Asked.TICK: "yes or no",
    Asked.SCAN: "scanned",
    Asked.COUNT: "a count",
    Asked.TEXT: "in words",
    Asked.PAPER: "the kind of paper",
}


def keeping_in_words(rules: KeepingRules) -> Iterable[Line]:
    """Yield what is said of sealing, inspection rounds, climate and paper."""
    if rules.sealing_steps:
        names = ", ".join(step.title for step in rules.sealing_steps)
        yield ("sealing table", "order of the steps"), names
    for step in rules.sealing_steps:
        for point, words in _step(step):
            yield ("sealing table", step.title, point), words
    if rules.rounds:
        yield from _rounds(rules.rounds)
    if rules.climate:
        yield from _climate(rules.climate)
    for life in rules.papers:
        yield from _paper(life)


def _step(step: SealingStep) -> Iterable[tuple[str, str]]:
    needed = "must be answered" if step.required else "may be left empty"
    yield "asked", f"{_PLACES[step.where]}, {_ASKED[step.asked]}, {needed}"
    if step.records is not SealingFact.NONE:
        yield "tells", step.records.replace("-", " ")
    if step.classes != frozenset(ContentKind):
        yield "asked for", ", ".join(KIND_NAMES[kind] for kind in sorted(step.classes))
    if step.caution:
        yield "caution", step.caution.replace("-", " ")
    if step.help:
        yield "help", step.help
    if step.clause:
        yield "clause", step.clause


def _rounds(rounds: RoundRules) -> Iterable[Line]:
    days = {
        "every": rounds.every_days,
        "every, where a case holds": rounds.contested_every_days,
        "climate read every": rounds.climate_every_days,
        "findings dealt with within": rounds.finding_due_days,
    }
    for point, number in days.items():
        yield ("inspection rounds", point), span(number, "days")
    if rounds.clause:
        yield ("inspection rounds", "clause"), rounds.clause


def _climate(limits: ClimateLimits) -> Iterable[Line]:
    warmth = f"from {limits.lowest_c} to {limits.highest_c} °C"
    damp = f"from {limits.lowest_humidity} to {limits.highest_humidity} per cent"
    yield ("climate of a room", "temperature"), warmth
    yield ("climate of a room", "relative humidity"), damp
    yield ("climate of a room", "source"), limits.source


def _paper(life: PaperLife) -> Iterable[Line]:
    warn = span(life.warn_after_months, "months")
    risk = span(life.at_risk_after_months, "months")
    about = f"{life.paper} paper"
    yield (about, "warned of after"), f"{warn} from the poll"
    yield (about, "at risk after"), f"{risk} from the poll"
    yield (about, "source"), life.source
