"""The acts that a permission permits, and the states in which they are asked for."""

from enum import StrEnum


class Act(StrEnum):
    """What a permission permits; each act needs its own."""

    ENTER_ROOM = "enter-room"
    OPEN_BOX = "open-box"
    OPEN_ENVELOPE = "open-envelope"
    TAKE_OUT = "take-out"
    DESTROY = "destroy"


ACT_TITLES = {
    Act.ENTER_ROOM: "enter the strong room",
    Act.OPEN_BOX: "open a box",
    Act.OPEN_ENVELOPE: "open an envelope",
    Act.TAKE_OUT: "take out",
    Act.DESTROY: "destroy",
}


class KeepingState(StrEnum):
    """Why a container is kept on a day, as far as it bears on who may permit an act.

    Of several the first one here counts: a case outranks an order, an order a term.
    """

    CASE_PENDING = "case-pending"
    UNDER_ORDER = "under-order"
    STILL_KEPT = "still-kept"
    FREE = "free"


STATE_TITLES = {
    KeepingState.CASE_PENDING: "while a case is pending or not yet settled",
    KeepingState.UNDER_ORDER: "while an order preserves it",
    KeepingState.STILL_KEPT: "while its time of keeping runs",
    KeepingState.FREE: "after its time of keeping",
}
