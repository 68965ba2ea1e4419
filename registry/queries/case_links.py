"""How a case hangs together with others, and under which names it was known."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from registry.models import Case, CaseLink
from registry.queries.scope import cases_of
from registry.rules.powers import Actor

Kind = CaseLink.Kind

# How the same link reads from the case that it goes to.
SEEN_FROM_THE_OTHER = {
    Kind.CONSOLIDATED: "heard together with",
    Kind.CROSS: "met with the cross-petition",
    Kind.SPLIT: "a part of it goes on as",
    Kind.REFILED: "filed anew, after its return, as",
    Kind.APPEAL: "taken on appeal as",
}


@dataclass(frozen=True)
class LinkRow:
    """Another case, and how it hangs together with this one.

    Attributes:
        number: the other's register number; empty where the asker may not see it.
    """

    how: str
    number: str
    title: str
    occurred_on: date
    paper: str


@dataclass(frozen=True)
class OtherName:
    """A court and a number under which a case was known before."""

    forum: str
    court_number: str


def link_rows(case: Case, actor: Actor) -> tuple[LinkRow, ...]:
    """Return the links from and to a case, in the order in which it happened."""
    links = [
        *CaseLink.objects.filter(case=case).select_related("other"),
        *CaseLink.objects.filter(other=case).select_related("case"),
    ]
    seen = set(cases_of(actor).values_list("pk", flat=True)) if links else set()
    rows = [_row(link, case, seen) for link in links]
    return tuple(sorted(rows, key=lambda row: (row.occurred_on, row.number)))


def _row(link: CaseLink, case: Case, seen: set[int]) -> LinkRow:
    kind = Kind(link.kind)
    outward = link.case_id == case.pk
    other = link.other if outward else link.case
    visible = other.pk in seen
    return LinkRow(
        how=kind.label if outward else SEEN_FROM_THE_OTHER[kind],
        number=other.number if visible else "",
        title=f"{other}, {other.parties}" if visible else "a case outside your charge",
        occurred_on=link.occurred_on,
        paper=link.paper,
    )


def other_names(case: Case) -> tuple[OtherName, ...]:
    """Return the courts and numbers that a case had before, the first one first."""
    now = OtherName(case.forum, case.court_number)
    versions = case.history.order_by("history_id").values_list("forum", "court_number")
    names = [OtherName(forum, number) for forum, number in versions if number]
    return tuple(name for name in dict.fromkeys(names) if name != now)


def once_called(text: str) -> QuerySet[Any]:
    """Return the ids of cases that have, or had, a court's number like this."""
    versions: QuerySet[Any] = Case.history.filter(court_number__icontains=text)
    return versions.values("id")
