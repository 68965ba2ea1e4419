"""What the checklist asks of a box when it is closed: asked, judged, kept."""

from collections.abc import Mapping, Sequence

from registry.models import Box
from registry.queries.sealing_pages import box_steps
from registry.queries.sealings import steps_of
from registry.rules.arrivals import DiscrepancyKind, Problem, SealEntry
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import Asked, SealingFact, SealingStep
from registry.rules.sealing import Question, wrong_with
from registry.usecases._door import Mistaken, note_access

# What other fields of the closing record: its seals, their signatures, its weight.
_ELSEWHERE = (SealingFact.BOX_SEAL, SealingFact.SIGNED, SealingFact.BOX_WEIGHT)
LONGEST = 200


def steps_at_closing(box: Box) -> tuple[SealingStep, ...]:
    """Return what the checklist of its election asks of a box, when it is closed."""
    if box.election is None:
        return ()
    steps, _ = steps_of(box.election)
    kind = ContentKind(box.kind)
    return tuple(step for step in box_steps(steps) if kind in step.classes)


def is_asked_apart(step: SealingStep) -> bool:
    """Whether a step is answered by itself, and not by the seals or the weight."""
    return step.records not in _ELSEWHERE


def field_of_check(step: SealingStep) -> str:
    """Return the field in which a step of the box is answered."""
    return f"check_{step.name}"


def keep_checks(
    box: Box,
    checks: Mapping[str, str],
    seals: Sequence[SealEntry],
    weight: object,
) -> list[Problem]:
    """Keep what was answered with the entry of the closing, for an auditor to read.

    Args:
        checks: by the step's short name, as answered.

    Returns:
        A problem for each step that was answered with no.

    Raises:
        Mistaken: a step that must be answered is not, or its answer is none.
    """
    problems = []
    steps = steps_at_closing(box)
    wrong = _lacking(steps, seals, weight)
    for step in filter(is_asked_apart, steps):
        answer = checks.get(step.name, "").strip()[:LONGEST]
        says = wrong_with(Question(step), answer) if answer or step.required else ""
        if says:
            wrong[field_of_check(step)] = [says]
        elif answer == "no" and step.asked is Asked.TICK and step.required:
            problems.append(_not_done(step))
        if answer:
            note_access(**{step.name.replace("-", "_"): answer})
    if wrong:
        raise Mistaken(wrong)
    return problems


def _lacking(
    steps: Sequence[SealingStep], seals: Sequence[SealEntry], weight: object
) -> dict[str, list[str]]:
    """Return what must be said of the seals and the weight and was not, by field."""
    required = {step.records for step in steps if step.required}
    found = {}
    if SealingFact.SIGNED in required and all(seal.signed is None for seal in seals):
        found["seal_signed_1"] = ["Say whether the seals are signed."]
    if SealingFact.BOX_WEIGHT in required and weight is None:
        found["gross_weight_kg"] = ["Weigh the box, and write the kilograms."]
    return found


def _not_done(step: SealingStep) -> Problem:
    return Problem(
        DiscrepancyKind.OTHER,
        written="no",
        expected="yes",
        detail=f"Closed though this was answered with no: {step.title}.",
    )
