"""What a case or an order covers, and the lock on the contests it touches."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import Case, Contest, Election, PollingStation
from registry.queries.find import NotThere, the
from registry.queries.keeping import legal_date
from registry.queries.scope import contests_of
from registry.rules.markings import plain_station
from registry.rules.powers import Actor
from registry.usecases._door import Mistaken


@dataclass(frozen=True)
class Covers:
    """What a case or an order covers.

    Attributes:
        whole_election: every contest.
        contests: register numbers of contests covered whole.
        stations: register numbers of stations, or ``11/003`` for constituency and
            station as they are written; the rest of their contests is left out.
        not_known: nobody knows yet what it challenges; everything is held until then.
        because, authority: why and on whose authority it is narrowed.
    """

    whole_election: bool = False
    contests: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    not_known: bool = False
    because: str = ""
    authority: str = ""

    @property
    def names_everything(self) -> bool:
        """Whether every contest of the election is held."""
        return self.whole_election or self.not_known

    @property
    def has_reason_and_authority(self) -> bool:
        """Whether what lets material go is accounted for."""
        return bool(self.because.strip() and self.authority.strip())


@dataclass(frozen=True)
class Covered:
    """The records that a case or an order covers."""

    election: Election
    everything: bool
    contests: tuple[Contest, ...]
    stations: tuple[PollingStation, ...]

    def touched(self) -> list[Contest]:
        """The contests on which nobody else may decide meanwhile."""
        if self.everything:
            return list(self.election.contests.all())
        return [*self.contests, *(station.contest for station in self.stations)]


def covered_by(election: Election, covers: Covers, actor: Actor) -> Covered:
    """Find what is covered.

    Raises:
        Mistaken: nothing is named, or something that this election does not have.
    """
    rows = contests_of(actor).filter(election=election)
    problems: dict[str, list[str]] = {}
    contests, stations = [], []
    for number in covers.contests:
        try:
            contests.append(the(rows, number, "contest of this election"))
        except NotThere as error:
            problems.setdefault("contests", []).append(str(error))
    for number in covers.stations:
        try:
            stations.append(_station(election, number))
        except NotThere as error:
            problems.setdefault("stations", []).append(str(error))
    if not (covers.names_everything or covers.contests or covers.stations):
        problems["contests"] = [
            "Say what it challenges: the election, constituencies, or stations; or say "
            "that it is not known yet."
        ]
    if problems:
        raise Mistaken(problems)
    return Covered(election, covers.names_everything, tuple(contests), tuple(stations))


def _station(election: Election, written: str) -> PollingStation:
    rows = PollingStation.objects.filter(contest__election=election).select_related(
        "contest"
    )
    constituency, slash, number = written.partition("/")
    if not slash:
        return the(rows, written, "polling station of this election")
    wanted = plain_station(number)
    near = rows.filter(contest__constituency_number=constituency.strip())
    for station in near:
        if plain_station(station.station_number) == wanted:
            return station
    raise NotThere(
        f"This election has no station {written.strip()}. Write the constituency's "
        "number, a stroke and the station's number, such as 11/003."
    )


def need_reason_and_authority(covers: Covers, message: str) -> None:
    """Refuse to let material go without a reason and the authority for it."""
    if not covers.has_reason_and_authority:
        raise Mistaken(because=message)


def need(**texts: str) -> None:
    """Raise Mistaken for every text that is empty."""
    missing = {
        name: ["This must be filled in."]
        for name, text in texts.items()
        if not text.strip()
    }
    if missing:
        raise Mistaken(missing)


def refuse_future(
    election: Election, day: date, at: datetime, field: str = "occurred_on"
) -> None:
    """Raise Mistaken for a day that has not come yet where the election's law is."""
    if day > legal_date(election, at):
        raise Mistaken(
            {field: ["This day has not come yet. Enter an event once it happened."]}
        )


def lock_contests(contests: Sequence[Contest]) -> None:
    """Let one decision on these contests be made at a time (by id: no deadlock)."""
    ids = sorted({contest.pk for contest in contests})
    list(Contest.objects.select_for_update().filter(pk__in=ids).order_by("pk"))


def lock_case(case: Case, also: Iterable[Contest] = ()) -> None:
    """Lock every contest that a case holds, and others, in one go and one order."""
    lock_contests([*_contests_of(case), *also])


def lock_cases(cases: Iterable[Case]) -> None:
    """Lock every contest that any of the cases holds, in one go and one order."""
    lock_contests([contest for case in cases for contest in _contests_of(case)])


def _contests_of(case: Case) -> list[Contest]:
    scopes = list(case.scopes.select_related("contest"))
    if case.whole_election or all(scope.ended for scope in scopes):
        return list(case.election.contests.all())
    return [scope.contest for scope in scopes]
