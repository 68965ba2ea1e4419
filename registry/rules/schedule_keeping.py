"""Read what a schedule says of the daily keeping: sealing, rounds, climate, paper.

These tables are optional. Where one is left out the rules that use it say what the
house does instead, and where that comes from.
"""

import re

from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import (
    ABSENT,
    ANSWERED_BY,
    CAUTIONS,
    MADE,
    TOLD_AT,
    Asked,
    ClimateLimits,
    KeepingRules,
    PaperLife,
    RoundRules,
    SealingFact,
    SealingPlace,
    SealingStep,
)
from registry.rules.toml_tables import Table

_SHORT_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


def read_keeping(root: Table) -> KeepingRules:
    """Return what the schedule's file says of the daily keeping."""
    return KeepingRules(
        sealing_steps=_steps(root),
        rounds=_rounds(root),
        climate=_climate(root),
        papers=_papers(root),
    )


def _steps(root: Table) -> tuple[SealingStep, ...]:
    steps: list[SealingStep] = []
    for table in root.tables("sealing_step"):
        classes = frozenset(ContentKind)
        if "for" in table.values:
            classes = frozenset(table.words("for", ContentKind))
        step = SealingStep(
            name=table.text("name"),
            title=table.text("title"),
            where=table.word("where", SealingPlace),
            asked=table.word("asked", Asked),
            records=table.word("records", SealingFact, SealingFact.NONE),
            required=table.flag("required", True),
            classes=classes,
            caution=table.text("caution", ""),
            help=table.text("help", ""),
            clause=table.text("clause", ""),
        )
        if any(other.name == step.name for other in steps):
            table.wrong("name", f"{step.name!r} stands twice; rename one.")
        _must_be_sensible(table, step)
        steps.append(step)
        table.finish()
    return tuple(steps)


def _must_be_sensible(table: Table, step: SealingStep) -> None:
    """Note what no sealing table could ask or use."""
    if step.name and not _SHORT_NAME.fullmatch(step.name):
        table.wrong("name", "must be small letters, digits and hyphens, at most 40.")
    if step.name in (ABSENT, MADE):
        table.wrong("name", f"{step.name!r} is the table's own word; choose another.")
    if step.caution and step.caution not in CAUTIONS:
        table.wrong("caution", f"must be one of {', '.join(CAUTIONS)}.")
    ways = ANSWERED_BY.get(step.records)
    if ways and step.asked not in ways:
        table.wrong("asked", f"{step.records} is told by {' or '.join(ways)}.")
    places = TOLD_AT.get(step.records)
    if places and step.where not in places:
        table.wrong("where", f"{step.records} is told of {' or '.join(places)}.")


def _rounds(root: Table) -> RoundRules | None:
    if "inspection" not in root.values:
        return None
    table = root.table("inspection")
    rules = RoundRules(
        every_days=table.whole("every_days", least=1, most=3_660),
        contested_every_days=table.whole("contested_every_days", least=1, most=3_660),
        climate_every_days=table.whole("climate_every_days", 7, least=1, most=366),
        finding_due_days=table.whole("finding_due_days", 7, least=1, most=366),
        clause=table.text("clause", ""),
    )
    table.finish()
    return rules


def _climate(root: Table) -> ClimateLimits | None:
    if "climate" not in root.values:
        return None
    table = root.table("climate")
    limits = ClimateLimits(
        lowest_c=table.whole("lowest_c", least=-30, most=40),
        highest_c=table.whole("highest_c", least=-30, most=60),
        lowest_humidity=table.whole("lowest_humidity", least=0, most=100),
        highest_humidity=table.whole("highest_humidity", least=0, most=100),
        source=table.text("source"),
    )
    if limits.highest_c < limits.lowest_c:
        table.wrong("highest_c", "it is below lowest_c; swap them.")
    if limits.highest_humidity < limits.lowest_humidity:
        table.wrong("highest_humidity", "it is below lowest_humidity; swap them.")
    table.finish()
    return limits


def _papers(root: Table) -> tuple[PaperLife, ...]:
    lives: list[PaperLife] = []
    for table in root.tables("paper"):
        life = PaperLife(
            paper=table.text("name"),
            warn_after_months=table.whole("warn_after_months", least=1, most=600),
            at_risk_after_months=table.whole("at_risk_after_months", least=1, most=600),
            source=table.text("source"),
        )
        if life.at_risk_after_months < life.warn_after_months:
            table.wrong("at_risk_after_months", "it is before the warning; swap them.")
        lives.append(life)
        table.finish()
    return tuple(lives)
