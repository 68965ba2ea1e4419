"""Every numbered seal of an election, and the lot to which it belongs."""

from collections import defaultdict

from registry.rules.material_facts import Applied, End, Fate, Issue, MaterialFacts
from registry.rules.seal_numbers import SealNumber


class Seals:
    """Every seal of the election, and the lot to which it belongs."""

    def __init__(self, facts: MaterialFacts) -> None:
        self.issues = [each for each in facts.issues if each.numbers]
        self.by_number: dict[tuple[str, str], list[tuple[Issue, SealNumber]]] = (
            defaultdict(list)
        )
        for issue in self.issues:
            for number in issue.numbers or ():
                self.by_number[issue.kind, number.plain].append((issue, number))
        self.worn: dict[tuple[str, str], list[Applied]] = defaultdict(list)
        self.issue_of: dict[str, Issue | None] = {}
        for seal in facts.applied:
            found = self._lot(seal)
            self.issue_of[seal.ref] = found
            if found is not None:
                self.worn[found.ref, seal.plain].append(seal)
        self.ended: dict[tuple[str, str], list[End]] = defaultdict(list)
        for end in facts.ends:
            for number in end.numbers or ():
                self.ended[end.issue, number.plain].append(end)

    def _lot(self, seal: Applied) -> Issue | None:
        """Return the lot of a seal: its own contest's and its own maker's first.

        Two makers may use the same numbers; a maker that was not written down may be
        any.
        """
        found = [
            issue
            for issue, _ in self.by_number.get((seal.kind, seal.plain), ())
            if not issue.maker or not seal.maker or issue.maker == seal.maker
        ]
        if not found:
            return None
        return max(
            found,
            key=lambda i: (i.maker == seal.maker, i.contest == seal.contest),
        )

    def fate(self, issue: Issue, number: SealNumber) -> Fate:
        """Return what became of one seal: the first fate that fits."""
        key = (issue.ref, number.plain)
        if self.worn.get(key):
            return Fate.APPLIED
        fates = {end.fate for end in self.ended.get(key, ())}
        return next((fate for fate in Fate if fate in fates), Fate.UNACCOUNTED)
