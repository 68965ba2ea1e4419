"""One step of a reasoning: a date, a reason code, and the facts it rests on."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from registry.rules import wording

Fact = str | int | datetime.date


@dataclass(frozen=True)
class Step:
    """One line of the answer to "why this day?".

    The code and its facts are kept, not the sentence, so that pages can translate.
    ``date`` is the day the step speaks of, or None where it speaks of none;
    ``decides`` marks the step that settles the answer.
    """

    date: datetime.date | None
    code: str
    facts: Mapping[str, Fact] = field(default_factory=dict, hash=False)
    decides: bool = False

    @property
    def text(self) -> str:
        """Say the step as an English sentence.

        Raises wording.WordingError for a code without a sentence, or a missing fact.
        """
        return wording.say(self.code, self.facts)
