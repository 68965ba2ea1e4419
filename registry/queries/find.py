"""Finding one record by its register number, within what the asker may see."""

from typing import TypeVar

from django.db.models import Model, QuerySet

from registry.rules.numbers import KINDS, NumberMistyped, kind_of, read

Row = TypeVar("Row", bound=Model)


class NotThere(Exception):
    """There is no such thing within the asker's scope; the message is for the user.

    Args:
        number: what was asked for, as it was typed.
    """

    def __init__(self, message: str, number: str = "") -> None:
        super().__init__(message)
        self.number = number


def the(rows: QuerySet[Row], number: str, noun: str) -> Row:
    """Return the row with this register number.

    A row outside the asker's scope is not there: nobody learns by guessing numbers
    which of them exist.

    Args:
        rows: what the asker may see.
        number: as typed or scanned.
        noun: for the message.

    Raises:
        NotThere: no such number, or none within scope, or mistyped.
    """
    try:
        written = read(number)
    except NumberMistyped as error:
        raise NotThere(str(error), number) from error
    found = rows.filter(number=written).first()
    if found is None:
        _refuse_another_kind(written, number, noun)
        raise NotThere(f"There is no {noun} {written} that you may see.", number)
    return found


def _refuse_another_kind(written: str, number: str, noun: str) -> None:
    """Raise NotThere where the number is that of another kind: a box for a shelf."""
    kind = KINDS[kind_of(written)]
    if kind != noun and noun in KINDS.values():
        raise NotThere(
            f"{written} is the number of a {kind}; a {noun} is asked for here. Scan "
            f"the {noun}.",
            number,
        )
