"""Entering an answer of the sealing table; rows are added and never changed."""

from datetime import datetime

from registry.models import SealingAnswer, UnitSet
from registry.queries.sealings import AtTable
from registry.rules.powers import Actor
from registry.usecases._door import Refused


def a_person(actor: Actor) -> int:
    """Return who works at the table.

    Raises:
        Refused: a terminal works here; an answer is somebody's.
    """
    if actor.person_id is None:
        raise Refused("Only a person can work at the sealing table; log in.")
    return actor.person_id


def enter_answer(
    table: AtTable, about: tuple[str, str], answer: str, actor: Actor, at: datetime
) -> None:
    """Enter one answer.

    Args:
        about: register number of the unit set, empty for the station; and the question.
    """
    unit, key = about
    SealingAnswer(
        sealing=table.sealing,
        unit_set=UnitSet.objects.get(number=unit) if unit else None,
        question=key,
        answer=answer,
        answered_at=at,
        answered_by_id=a_person(actor),
    ).save()
