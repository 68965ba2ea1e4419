"""Read a schedule from its TOML text; registry.rules.schedules tells the keys."""

from collections.abc import Mapping

from registry.rules.markings import Marking
from registry.rules.schedule_clauses import (
    read_appeal_windows,
    read_authorities,
    read_notices,
    read_terms,
)
from registry.rules.schedule_keeping import read_keeping
from registry.rules.schedule_parts import (
    ClassRules,
    ContentKind,
    DestructionLevel,
    SafetyMargins,
    Schedule,
    Term,
)
from registry.rules.toml_tables import Problem, Table, read_document


class ScheduleError(ValueError):
    """The text is no usable schedule; ``problems`` holds all that is wrong in it."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


def read_schedule(text: str, file: str) -> Schedule:
    """Read a schedule from the text of its TOML file.

    Args:
        text: the whole file; its keys are told in this module's docstring.
        file: the file's name, for the error.

    Raises:
        ScheduleError: with every problem, each naming file, line and key, and what
            to write instead.
    """
    document = read_document(text, file)
    if document.problems:
        raise ScheduleError(tuple(document.problems))
    schedule = _schedule(document.root)
    if document.problems:
        raise ScheduleError(tuple(sorted(document.problems)))
    return schedule


def _schedule(root: Table) -> Schedule:
    law = root.text("law")
    confirmation = root.table("confirmation")
    required = confirmation.flag("required")
    clause = confirmation.text("clause", None if required else "")
    schedule = Schedule(
        code=root.text("code"),
        version=root.whole("version", least=1, most=9_999),
        title=root.text("title"),
        law=law,
        ordained_by=root.text("ordained_by"),
        order=root.text("order"),
        in_force_from=root.day("in_force_from"),
        classes=_classes(root, read_terms(root, law), required),
        appeal_windows=read_appeal_windows(root, law),
        confirmation_required=required,
        confirmation_clause=clause,
        seal_check_within_days=root.whole("seal_check_within_days", least=0, most=365),
        note=root.text("note", ""),
        express_order_suffices=confirmation.flag("or_express_order", False),
        to_be_confirmed=root.flag("to_be_confirmed", False),
        authorities=read_authorities(root, law),
        notices=read_notices(root, law),
        margins=_margins(root),
        keeping=read_keeping(root),
    )
    confirmation.finish()
    root.finish()
    return schedule


def _margins(root: Table) -> SafetyMargins:
    table = root.table_if_any("safety_margin")
    margins = SafetyMargins(
        inner_days=table.whole("inner_days", 0, least=0, most=366),
        outer_days=table.whole("outer_days", 0, least=0, most=366),
        clause=table.text("clause", ""),
    )
    table.finish()
    return margins


def _classes(
    root: Table, terms: Mapping[ContentKind, list[Term]], confirmed: bool
) -> dict[ContentKind, ClassRules]:
    headed = root.table("class")
    classes = {}
    for kind in ContentKind:
        if kind in headed.values:
            classes[kind] = _class(headed.table(kind), kind, terms.get(kind, []))
            _check_terms(headed, classes[kind], confirmed)
        elif kind in terms:
            message = f"a term binds {kind}; add a table [class.{kind}]."
            headed.wrong(kind, message)
        headed.read.add(kind)
    if "class" in root.values and not headed.values:
        headed.wrong("poll-slips", "no class is told; add at least one [class.…].")
    headed.finish()
    return classes


def _class(table: Table, kind: ContentKind, terms: list[Term]) -> ClassRules:
    rules = ClassRules(
        kind=kind,
        terms=tuple(terms),
        envelope_markings=table.words("envelope_markings", Marking),
        box_markings=table.words("box_markings", Marking),
        destruction_level=table.word("destruction_level", DestructionLevel),
        per_station=_per_station(table, kind),
    )
    table.finish()
    return rules


def _per_station(table: Table, kind: ContentKind) -> int | None:
    if "per_station" not in table.values:
        return None
    if kind is not ContentKind.STATUTORY_PACKET:
        table.wrong(
            "per_station",
            "slips are expected from each unit set; say this of statutory packets.",
        )
    return table.whole("per_station", least=0, most=20)


def _check_terms(headed: Table, rules: ClassRules, confirmed: bool) -> None:
    if not rules.terms:
        message = f"no term binds it; add a [[term]] with for = [{rules.kind.value!r}]."
        headed.wrong(rules.kind, message)
    elif confirmed and not any(term.petition_window for term in rules.terms):
        headed.wrong(
            rules.kind,
            "a confirmation is required, but no term of this class says which window "
            "it must reach past; write petition_window = true in that term.",
        )
