"""Numbered paper forms: each number printed is accounted for, used or not.

A number that nobody can account for could have been filled in by anybody, as a lost
seal could have closed any box. (Numbered forms and their account: common practice of
auditors, no published source.)
"""

from collections.abc import Iterable
from dataclasses import dataclass

BLANK = "blank"
IN_ENTRY = "in-entry"
ENTERED = "entered"
SPOILT = "spoilt"
RETURNED = "returned"
LOST = "lost"

# In the order in which the account names them, with the words it uses.
ACCOUNTED = (
    (ENTERED, "entered"),
    (IN_ENTRY, "entered in part"),
    (SPOILT, "spoilt"),
    (RETURNED, "returned"),
    (BLANK, "in stock"),
    (LOST, "not accounted for"),
)


@dataclass(frozen=True)
class Line:
    """One form as the account sees it; ``used`` counts the acts entered from it."""

    number: str
    state: str
    used: int = 0


@dataclass(frozen=True)
class Account:
    """What became of the numbers that were printed.

    Attributes:
        parts: how many forms stand in each state, by the state.
        skipped: blank forms of which a later number was used already: they were left
            out of the pad's order, so somebody must look whether they are there.
    """

    printed: int
    parts: dict[str, int]
    skipped: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """The account in one line, such as "printed 50 = 48 entered + 2 spoilt"."""
        said = [f"{self.parts[s]} {word}" for s, word in ACCOUNTED if self.parts[s]]
        return f"printed {self.printed} = {' + '.join(said) or '0'}"

    @property
    def closes(self) -> bool:
        """Whether each number is accounted for and none was skipped."""
        return not self.parts[LOST] and not self.skipped


def account_of(lines: Iterable[Line]) -> Account:
    """Return the account of the forms of one room and one kind.

    Args:
        lines: every form that was printed, in any order.
    """
    forms = sorted(lines, key=lambda line: line.number)
    parts = {state: 0 for state, _ in ACCOUNTED}
    for form in forms:
        parts[form.state] += 1
    last_used = max((form.number for form in forms if form.used), default="")
    skipped = (f.number for f in forms if f.state == BLANK and f.number < last_used)
    return Account(len(forms), parts, tuple(skipped))


def obstacle_to_ending(state: str, used: int, end: str) -> str:
    """Return why a form cannot be ended in this way; empty where it can.

    Args:
        state: how the form stands.
        used: how many acts were entered from it.
        end: the state in which it is to end.
    """
    if state in (ENTERED, SPOILT, RETURNED):
        return "It is accounted for already."
    if state == LOST:
        return "It was reported lost: record that it was found first."
    if end == ENTERED and not used:
        return (
            "Nothing was entered from it yet. Enter its lines first; if it is blank, "
            "return it; if it was spoilt, say so."
        )
    if end in (SPOILT, RETURNED) and used:
        return (
            f"{used} of its lines {'was' if used == 1 else 'were'} entered, so it was "
            "used. Mark it as entered in full, and say in the note what is wrong."
        )
    return ""
