"""The sealing table: the checklist of a station, its answers, who else works there."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    CONTENT_TITLES,
    Box,
    ContainerState,
    Election,
    Envelope,
    PollingStation,
    SealingAnswer,
    StationSealing,
)
from registry.queries.keeping import schedule_of
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import MADE, SealingFact, SealingStep
from registry.rules.powers import Actor
from registry.rules.sealing import (
    CARRIED,
    SEALED_AT_THE_TABLE,
    Answers,
    Question,
    Station,
    Unit,
    questions,
)
from registry.rules.sealing_checks import told_at_once
from registry.rules.sealing_default import DEFAULT_STEPS

Latest = dict[tuple[str, str], SealingAnswer]
_LIVE = (ContainerState.HELD, ContainerState.QUARANTINED)


@dataclass(frozen=True)
class OtherPerson:
    """Somebody else who works at the same station, and their last entry."""

    name: str
    at: datetime


@dataclass(frozen=True)
class AtTable:
    """A station at the table: its checklist, and where the work stands.

    Attributes:
        house: the checklist is the house's own, the schedule names none.
        latest: by unit set and question, the answer that counts.
    """

    sealing: StationSealing
    steps: tuple[SealingStep, ...]
    house: bool
    station: Station
    latest: Latest
    answers: Answers
    asked: tuple[Question, ...]

    @property
    def told(self) -> dict[str, str]:
        """What to tell the custodian beside each question, by its field."""
        return told_at_once(self.asked, self.station, self.answers)

    @property
    def seen(self) -> int:
        """The newest answer that is looked at here."""
        return max((row.pk for row in self.latest.values()), default=0)


def steps_of(election: Election) -> tuple[tuple[SealingStep, ...], bool]:
    """Return the checklist of an election, and whether it is the house's own."""
    own = schedule_of(election.schedule).keeping.sealing_steps
    return own or DEFAULT_STEPS, not own


def station_at_table(station: PollingStation) -> Station:
    """Return the station with all its unit sets and what of them is on record."""
    sealed: dict[int, set[ContentKind]] = defaultdict(set)
    rows = Envelope.objects.filter(
        unit_set__station=station, kind__in=SEALED_AT_THE_TABLE, state__in=_LIVE
    )
    for unit_set, kind in rows.values_list("unit_set_id", "kind"):
        sealed[unit_set].add(ContentKind(kind))
    return Station(
        number=station.number,
        station_number=station.station_number,
        units=tuple(
            Unit(
                number=row.number,
                control_unit=row.control_unit_serial,
                paper_trail_unit=row.paper_trail_serial,
                replaced=row.replaced,
                sealed=frozenset(sealed[row.pk]),
                votes_known=row.votes_recorded,
            )
            for row in station.unit_sets.order_by("sequence")
        ),
    )


def at_table(sealing: StationSealing) -> AtTable:
    """Gather what the rules need to know of a sealing in hand."""
    steps, house = steps_of(sealing.station.contest.election)
    station = station_at_table(sealing.station)
    latest = latest_answers(sealing)
    answers = {about: row.answer for about, row in latest.items()}
    return AtTable(
        sealing=sealing,
        steps=steps,
        house=house,
        station=station,
        latest=latest,
        answers=answers,
        asked=questions(steps, station, answers),
    )


def latest_answers(sealing: StationSealing) -> Latest:
    """Return the answers that count: of each question the latest."""
    rows = sealing.answers.select_related("unit_set", "answered_by").order_by("id")
    return {
        (row.unit_set.number if row.unit_set else "", row.question): row for row in rows
    }


def others_at(sealing: StationSealing, actor: Actor) -> tuple[OtherPerson, ...]:
    """Return who else entered something at this station, the latest first."""
    last = {sealing.begun_by_id: OtherPerson(sealing.begun_by.name, sealing.begun_at)}
    rows = sealing.answers.select_related("answered_by").order_by("id")
    for row in rows:
        last[row.answered_by_id] = OtherPerson(row.answered_by.name, row.answered_at)
    found = [other for person, other in last.items() if person != actor.person_id]
    return tuple(sorted(found, key=lambda other: other.at, reverse=True))


def carried_over(table: AtTable, actor: Actor) -> dict[str, str]:
    """Return what the person said at the station before, by this page's fields.

    It stands in the fields to be looked at, and is no answer until it is sent. A box
    that was closed meanwhile is not proposed.
    """
    open_questions = [
        q
        for q in table.asked
        if q.step.records in CARRIED and q.about not in table.latest
    ]
    found = {}
    for key in {q.key for q in open_questions}:
        row = (
            SealingAnswer.objects.filter(
                question=key,
                answered_by_id=actor.person_id,
                sealing__room_id=table.sealing.room_id,
                sealing__station__contest_id=table.sealing.station.contest_id,
            )
            .order_by("-id")
            .first()
        )
        if row:
            found[key] = row.answer
    return {
        q.field: found[q.key]
        for q in open_questions
        if found.get(q.key)
        and (q.step.records is not SealingFact.BOX or _is_open(found[q.key]))
    }


def _is_open(box: str) -> bool:
    return Box.objects.filter(
        number=box, state=ContainerState.HELD, closed_on__isnull=True
    ).exists()


def made(table: AtTable) -> tuple[tuple[str, str], ...]:
    """Return the envelopes that were sealed here: content and number."""
    return tuple(
        (CONTENT_TITLES[ContentKind(key.partition("@")[2])], row.answer)
        for (_, key), row in table.latest.items()
        if key.startswith(f"{MADE}@")
    )


def on_record(station: Station) -> dict[str, list[tuple[str, str]]]:
    """Return by unit set the live envelopes on record: content and number."""
    found: dict[str, list[tuple[str, str]]] = defaultdict(list)
    rows = Envelope.objects.filter(
        unit_set__number__in=[unit.number for unit in station.units],
        kind__in=SEALED_AT_THE_TABLE,
        state__in=_LIVE,
    ).order_by("id")
    for unit, kind, number in rows.values_list("unit_set__number", "kind", "number"):
        found[unit].append((CONTENT_TITLES[ContentKind(kind)], number))
    return found


def fields_of(table: AtTable, questions: Iterable[Question]) -> dict[str, str]:
    """Return the answers that count, by the fields of a page."""
    return {
        question.field: table.answers[question.about]
        for question in questions
        if question.about in table.answers
    }
