"""What reconciliation and the account of seals ask for, on the custodian's desk."""

from collections.abc import Iterator
from datetime import date, datetime

from django.db.models import Q

from registry.models import Contest, Election, MaterialIssue, PollingStation
from registry.queries.desks import Waiting, count
from registry.queries.materials import BROUGHT_BACK_WITHIN, material_standings
from registry.queries.reconciliation_rows import standings
from registry.queries.scope import boxes_of, elections_of, envelopes_of
from registry.rules.powers import Actor

# A desk is opened many times a day: beyond so many stations the differences of an
# election are counted on its own page alone.
MOST_STATIONS = 2_000


def accounts_waiting(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """Contests with differences that nobody has in hand, and seals that are nowhere.

    A custodian is asked about contests of which something is kept in the rooms in
    their charge, and about seals that they recorded as issued.
    """
    for election in elections_of(actor).select_related("schedule").order_by("id"):
        yield from _differences(election, actor, on)
        yield from _seals(election, actor, on)


def _kept(election: Election, actor: Actor) -> set[int]:
    """Return the ids of the contests of which the actor keeps something."""
    return {
        contest
        for rows in (boxes_of(actor), envelopes_of(actor))
        for contest in rows.filter(contest__election=election)
        .order_by()
        .values_list("contest_id", flat=True)
        .distinct()
    }


def _differences(election: Election, actor: Actor, on: date) -> Iterator[Waiting]:
    kept = election.contests.filter(pk__in=_kept(election, actor))
    counted = set(kept.filter(counted_on__lte=on).values_list("number", flat=True))
    stations = PollingStation.objects.filter(contest__election=election).count()
    if not counted or stations > MOST_STATIONS:
        return
    open_ones = [
        each
        for each in standings(election, actor)
        if each.unexplained and each.number in counted
    ]
    if open_ones:
        n = sum(each.unexplained for each in open_ones)
        what = count(len(open_ones), "contest has", "contests have")
        yield Waiting(
            text=f"{what} {count(n, 'difference', 'differences')} that nobody has in "
            "hand",
            page="reconciliations",
            word="To explain",
            tone="wait",
            note=f"{election}: look at the reconciliation of each, and open a "
            "discrepancy for what cannot be put right at once.",
        )


def _seals(election: Election, actor: Actor, on: date) -> Iterator[Waiting]:
    if not MaterialIssue.objects.filter(contest__election=election).exists():
        return
    late = _counted_before(election, on - BROUGHT_BACK_WITHIN, actor)
    found = [
        each
        for each in material_standings(election, actor)
        if each.unaccounted and each.number in late
    ]
    if found:
        n = sum(each.unaccounted for each in found)
        yield Waiting(
            text=f"{count(n, 'seal is', 'seals are')} not accounted for",
            page="materials-list",
            word="Missing",
            tone="stop",
            note=f"{election}: counted more than {BROUGHT_BACK_WITHIN.days} days ago. "
            "An unused seal that nobody can show could seal a box again.",
        )


def _counted_before(election: Election, day: date, actor: Actor) -> set[str]:
    own = Q(pk__in=_kept(election, actor)) | Q(
        material_issues__recorded_by=actor.person_id
    )
    rows = Contest.objects.filter(own, election=election, counted_on__lt=day)
    return set(rows.values_list("number", flat=True))
