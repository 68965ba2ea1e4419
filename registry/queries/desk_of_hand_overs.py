"""The hand-overs of charge that wait for somebody."""

from collections.abc import Iterator
from datetime import date, datetime

from registry.queries.desks import Waiting
from registry.queries.hand_overs import hand_overs_of, with_people
from registry.rules.powers import Actor


def hand_overs_waiting(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What the actor has to look at or to sign, and rooms that change hands."""
    rows = with_people(hand_overs_of(actor)).filter(ended_at__isnull=True)
    for of in rows.order_by("id"):
        giver = of.stated_by_id if of.outgoing_absent else of.outgoing_id
        takes = actor.person_id == of.incoming_id
        what, word = f"{of.outgoing} hands over to {of.incoming}", "Under way"
        if of.state == "signed-out" and takes:
            what, word = "sign, and take over", "To sign"
        elif of.state == "stated" and takes:
            what, word = "look at what is handed over", "To look at"
        elif of.state == "stated" and actor.person_id == giver:
            what, word = "sign when it is looked at", "To sign"
        yield Waiting(
            text=f"Hand-over {of.number} of {of.room}: {what}",
            number=of.number,
            word=word,
            tone="plain" if word == "Under way" else "wait",
            note=f"Until both have signed, {of.outgoing} answers for the stock.",
        )
