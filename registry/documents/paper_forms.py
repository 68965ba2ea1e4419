"""Numbered forms to be filled in by hand while the network is down.

Each sheet bears one number, in words and as a code, so that what stands on it can be
entered later under that number and each sheet can be accounted for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.documents.labels import code_image
from registry.documents.pdf import Paper, render


@dataclass(frozen=True)
class Column:
    """A column of a form.

    Attributes:
        boxes: a register number is written here, one character to a box.
        ticks: what is ticked here instead of written.
        width: in millimetres; 0 shares what is left.
    """

    title: str
    hint: str = ""
    boxes: bool = False
    ticks: tuple[str, ...] = ()
    width: int = 0


@dataclass(frozen=True)
class Shape:
    """What a kind of form asks for."""

    title: str
    told: str
    columns: tuple[Column, ...]
    lines: int
    signers: tuple[str, str]
    cautions: tuple[str, ...]

    @property
    def numbered_lines(self) -> range:
        """The numbers of its lines."""
        return range(1, self.lines + 1)


WHEN = Column("When it happened", "day, hour and minute", width=30)

# What must be written down at each of these acts is what the register asks for when
# it is entered.
SHAPES = {
    "intake": Shape(
        title="Containers received",
        told="One line for each container, as it stands on the table. Copy what is "
        "written on it to the letter. What is not there stays empty.",
        columns=(
            WHEN,
            Column("What it is", ticks=("envelope", "box"), width=22),
            Column("Content", ticks=("poll", "mock poll", "packet"), width=23),
            Column("Constituency", "number", width=21),
            Column("Station", "number", width=20),
            Column("Control unit", "serial"),
            Column("Paper-trail unit", "serial"),
            Column("Seal", "number, maker"),
            Column("Seal is", ticks=("whole", "broken", "absent"), width=20),
            Column("Delivered by"),
        ),
        lines=6,
        signers=("Delivered by", "Received by"),
        cautions=("lifting", "sealing"),
    ),
    "moves": Shape(
        title="Containers put away, moved or handed over",
        told="One line for each step, in the order in which it was done. Copy the "
        "numbers from the labels, one character to a box.",
        columns=(
            WHEN,
            Column("Container", "BX or EN and its number", boxes=True, width=56),
            Column(
                "What was done",
                ticks=("into box", "on shelf", "handed over", "not found", "found"),
                width=29,
            ),
            Column("Box or shelf", "BX or SH and its number", boxes=True, width=56),
            Column("Who did it; to whom; where"),
        ),
        lines=6,
        signers=("Done by", "Second person present"),
        cautions=("lifting",),
    ),
    "seals": Shape(
        title="Seals and places looked at",
        told="Read the seal itself and write its number down before it is compared "
        "with anything. If it is broken: stop, touch nothing, call the second person.",
        columns=(
            WHEN,
            Column("Container", "BX or EN and its number", boxes=True, width=56),
            Column("Number read on the seal", width=46),
            Column(
                "How it was found",
                ticks=("whole", "damaged", "open", "absent", "illegible"),
                width=25,
            ),
            Column("Where it stands", "bay, shelf", width=32),
            Column("Who looked; note"),
        ),
        lines=5,
        signers=("Looked at by", "Second person present"),
        cautions=("lifting", "mould"),
    ),
    "door": Shape(
        title="Door opened and closed",
        told="One line for each opening. Two key holders open together; nobody holds "
        "both keys. The line is finished only when the door is sealed again.",
        columns=(
            Column("Opened", "day, hour and minute", width=28),
            Column("Door seal before", "number read", width=32),
            Column("Purpose", "and on whose order"),
            Column("Key holder 1", "name, signature", width=36),
            Column("Key holder 2", "name, signature", width=36),
            Column("Others present", width=36),
            Column("Closed", "day, hour and minute", width=28),
            Column("Door seal after", "number put on", width=32),
        ),
        lines=6,
        signers=("First key holder", "Second key holder"),
        cautions=("lifting",),
    ),
}


@dataclass(frozen=True)
class BlankForm:
    """One sheet as it is printed.

    Attributes:
        kind: one of ``SHAPES``.
        times_printed: 1 the first time; a later print says so, since two sheets then
            bear one number.
    """

    number: str
    kind: str
    room: str
    printed_at: datetime
    printed_by: str
    times_printed: int = 1


@dataclass(frozen=True)
class _Sheet:
    form: BlankForm
    shape: Shape
    code: str


def paper_forms_pdf(
    forms: Sequence[BlankForm], made_at: datetime, made_by: str, *, enter_at: str
) -> bytes:
    """Return numbered forms as a PDF, one sheet of A4 on its side for each.

    Args:
        forms: at least one.
        made_at: when they are printed, with its time zone.
        made_by: who prints them.
        enter_at: where the register is found, to enter them later.

    Raises ValueError where no form was given.
    """
    if not forms:
        raise ValueError("There is no form to print.")
    numbers = [form.number for form in forms]
    title = f"Paper form {numbers[0]}"
    if len(numbers) > 1:
        title = f"Paper forms {numbers[0]} to {numbers[-1]}"
    sheets = tuple(
        _Sheet(form, SHAPES[form.kind], code_image(form.number)) for form in forms
    )
    paper = Paper(
        template="documents/paper_form.html",
        facts={"sheets": sheets, "enter_at": enter_at},
        title=title,
        made_at=made_at,
        made_by=made_by,
        sheet="documents/paper_form.css",
    )
    return render(paper)
