"""What is out under an order: whether it is overdue, and whether it came back whole."""

from datetime import date
from decimal import Decimal
from enum import StrEnum

# Two weighings of one box on one pair of scales differ by no more (common practice,
# no published source); paper takes up some moisture as well.
WEIGHING_TOLERANCE_KG = Decimal("0.10")


class OutStand(StrEnum):
    """How something stands that was handed out."""

    EXPECTED = "out"
    NO_DAY = "out, no day named"
    OVERDUE = "overdue"
    KEPT = "kept by a court"
    BACK = "back"


def stand_of_production(
    expected_back_on: date | None, *, is_back: bool, is_kept: bool, on: date
) -> OutStand:
    """Return how something stands on a day that was handed out under an order.

    It is overdue from the day after the one on which it was expected.
    """
    if is_back:
        return OutStand.BACK
    if is_kept:
        return OutStand.KEPT
    if expected_back_on is None:
        return OutStand.NO_DAY
    return OutStand.OVERDUE if expected_back_on < on else OutStand.EXPECTED


def weight_differs(went: Decimal | None, came: Decimal | None) -> bool:
    """Tell whether two weights, in kg, differ by more than weighing explains.

    Without one of them nothing can be said.
    """
    if went is None or came is None:
        return False
    return abs(went - came) > WEIGHING_TOLERANCE_KG
