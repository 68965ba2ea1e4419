"""Looking at stock-takes: listed, read, planned ahead, printed."""

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from math import ceil

from registry.documents.stock_takes import (
    StockTakePaper,
    recipe,
    repeat_command,
    stock_take_csv,
    stock_take_report,
    stock_take_sheet,
)
from registry.models import StockTake
from registry.queries.find import the
from registry.queries.scope import contests_of, elections_of, rooms_of
from registry.queries.stock_takes import (
    StockTakeFile,
    StockTakeRow,
    away,
    population,
    stock_take_file,
    stock_take_rows,
    stock_takes_of,
)
from registry.rules.powers import Actor, Power
from registry.rules.sampling import bits_of_chance, probability_of_finding
from registry.rules.stock_takes import percent, statements
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases.papers import Printed
from registry.usecases.set_up_looks import Offered
from registry.usecases.stock_takes import (
    StockTakePlan,
    size_planned,
    stratum_planned,
)

# A seed with more chance than a hash has bits adds nothing (RFC 3797, section 3.3).
BITS_OF_A_HASH = 128


@usecase("stock_take.list", power=Power.LOOK)
def list_stock_takes(*, actor: Actor, at: datetime) -> tuple[StockTakeRow, ...]:
    """List the stock-takes within the actor's scope, the newest first."""
    rows = tuple(stock_take_rows(stock_takes_of(actor)))
    note_access(listed=len(rows))
    return rows


@dataclass(frozen=True)
class StockTakePage:
    """A stock-take with what it shows and how its draw is repeated."""

    file: StockTakeFile
    statements: tuple[str, ...]
    recipe: tuple[str, ...]
    command: str


@usecase("stock_take.look", power=Power.LOOK, subject="stock_take")
def look_at_stock_take(*, stock_take: str, actor: Actor, at: datetime) -> StockTakePage:
    """Open a stock-take's page."""
    return _page(stock_take, actor)


@usecase("stock_take.look", power=Power.TAKE_STOCK, subject="stock_take")
def look_before_taking_stock(
    *, stock_take: str, actor: Actor, at: datetime
) -> StockTakePage:
    """Open a form about a stock-take; who may not take stock is refused here."""
    return _page(stock_take, actor)


@dataclass(frozen=True)
class PlanAhead:
    """What a plan would come to, before the list is frozen.

    Attributes:
        away: what belongs to the stock and is not in its room: where, how many.
        finds: for some losses, with which probability the sample would show them.
        bits: how many bits of chance the public numbers should hold at least.
    """

    of: str
    nouns: str
    population: int
    away: tuple[tuple[str, int], ...]
    size: int
    finds: tuple[tuple[int, str], ...]
    bits: int

    @property
    def whole(self) -> bool:
        """Whether everything is looked at."""
        return self.size == self.population


@usecase("stock_take.prepare", power=Power.TAKE_STOCK)
def prepare_stock_take(*, actor: Actor, at: datetime) -> Offered:
    """Open the form of a plan."""
    return Offered(
        elections=tuple(
            elections_of(actor).order_by("id").values_list("number", "name")
        ),
        rooms=tuple(rooms_of(actor).order_by("id").values_list("number", "name")),
    )


@usecase("stock_take.prepare", power=Power.TAKE_STOCK)
def contests_to_choose(*, actor: Actor, at: datetime) -> tuple[tuple[str, str], ...]:
    """List the contests that a plan can be narrowed to."""
    rows = contests_of(actor).order_by("id")
    return tuple((row.number, f"{row}, {row.election}") for row in rows)


@usecase("stock_take.reckon", power=Power.TAKE_STOCK)
def reckon_stock_take(*, plan: StockTakePlan, actor: Actor, at: datetime) -> PlanAhead:
    """Say how many a plan would look at, and what that would show.

    Raises:
        Mistaken: there is nothing to look at, or the question has no answer.
    """
    stratum = stratum_planned(plan, actor)
    of = population(stratum, actor).count()
    size = size_planned(plan, of)
    losses = sorted({loss for loss in (1, 2, 3, 5, 10, 20, plan.lost) if loss <= of})
    note_access(containers=of)
    return PlanAhead(
        of=str(stratum),
        nouns=stratum.nouns,
        population=of,
        away=away(stratum, actor),
        size=size,
        finds=tuple(
            (loss, percent(Fraction(probability_of_finding(of, loss, size))))
            for loss in losses
        ),
        bits=min(BITS_OF_A_HASH, ceil(bits_of_chance(of, size))),
    )


@usecase("stock_take.print", power=Power.LOOK, subject="stock_take")
def print_sheet(*, stock_take: str, actor: Actor, at: datetime) -> Printed:
    """Print the sheet to walk with.

    Raises:
        Refused: nothing was drawn yet.
    """
    paper = _paper(stock_take, actor, at)
    name = f"stock-take-{paper.file.row.number}-sheet.pdf"
    return Printed(name, stock_take_sheet(paper))


@usecase("stock_take.print", power=Power.LOOK, subject="stock_take")
def print_report(*, stock_take: str, actor: Actor, at: datetime) -> Printed:
    """Print the report, with what the stock-take has shown so far."""
    paper = _paper(stock_take, actor, at)
    name = f"stock-take-{paper.file.row.number}.pdf"
    return Printed(name, stock_take_report(paper))


@usecase("stock_take.print", power=Power.LOOK, subject="stock_take")
def export_report(*, stock_take: str, actor: Actor, at: datetime) -> Printed:
    """Give out the report's lines as CSV."""
    paper = _paper(stock_take, actor, at)
    name = f"stock-take-{paper.file.row.number}.csv"
    return Printed(name, stock_take_csv(paper), "text/csv; charset=utf-8")


def _paper(number: str, actor: Actor, at: datetime) -> StockTakePaper:
    file = _file(number, actor)
    if not file.items:
        raise Refused(f"Nothing was drawn for {file.row.number} yet.")
    return StockTakePaper(file, at, f"{actor.name} ({actor.role_title})")


def _page(number: str, actor: Actor) -> StockTakePage:
    file = _file(number, actor)
    shown = statements(file.outcome, file.nouns) if file.items else ()
    return StockTakePage(file, shown, recipe(file), repeat_command(file))


def _file(number: str, actor: Actor) -> StockTakeFile:
    rows = stock_takes_of(actor).select_related(
        "room", "election", "contest__election", "list_document", "frozen_by"
    )
    take: StockTake = the(rows, number, "stock-take")
    file = stock_take_file(take)
    note_access(take.number, shown=[item.container.number for item in file.items])
    return file
