"""What the database refuses about stock-takes and hand-overs, whoever asks."""

from collections.abc import Iterator

from registry.models.triggers import Guard, differ


def stock_guards() -> Iterator[Guard]:
    """Yield the triggers of stock-takes and of hand-overs of charge."""
    yield from _stock_take_guards()
    yield from _hand_over_guards()


def _stock_take_guards() -> Iterator[Guard]:
    """What a draw was made from stays as it was before anybody knew the numbers."""
    frozen = (
        "room_id", "election_id", "contest_id", "kind", "noun", "whole", "population",
        "lost_supposed", "probability", "sample_size", "list_document_id",
        "list_digest", "seed_announced", "seed_on", "frozen_on", "frozen_at",
        "frozen_by_id",
    )  # fmt: skip
    drawn = ("seed", "drawn_at", "drawn_by_id")
    ended = ("state", "conclusion", "ended_at", "ended_by_id")
    table = "registry_stocktake"
    yield Guard(
        f"{table}_frozen",
        table,
        "UPDATE",
        differ(frozen),
        f"{table}: a frozen list and what was announced with it stay as they are",
    )
    yield Guard(
        f"{table}_drawn_once",
        table,
        "UPDATE",
        f"OLD.drawn_at IS NOT NULL AND ({differ(drawn)})",
        f"{table}: a draw is made once",
    )
    yield Guard(
        f"{table}_stays_ended",
        table,
        "UPDATE",
        f"OLD.ended_at IS NOT NULL AND ({differ(ended)})",
        f"{table}: what is concluded or abandoned stays so",
    )
    yield Guard(
        "registry_stocktakeitem_drawn",
        "registry_stocktakeitem",
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM registry_stocktake t WHERE t.id = "
        "NEW.stock_take_id AND t.state = 'drawn' AND t.ended_at IS NULL "
        "AND NEW.line <= t.population AND NEW.position <= t.sample_size)",
        "registry_stocktakeitem: it is not of a draw that was made",
    )


def _hand_over_guards() -> Iterator[Guard]:
    table = "registry_chargehandover"
    yield Guard(
        f"{table}_stays_ended",
        table,
        "UPDATE",
        "OLD.ended_at IS NOT NULL AND ("
        + differ(
            (
                "state", "outgoing_id", "incoming_id", "room_id", "list_document_id",
                "list_digest", "differences", "signed_out_at", "signed_out_by_id",
                "signed_in_at", "ended_at", "ended_because", "document_id",
            )
        )
        + ")",
        f"{table}: what is signed by both, or given up, stays as it is",
    )  # fmt: skip
