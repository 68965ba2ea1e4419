"""A strong room in which something of everything goes on, for the crawl of pages."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from registry.models import User
from registry.rules.powers import Role
from registry.rules.schedules import ContentKind
from registry.usecases import (
    boxes,
    climate,
    hand_overs,
    incidents,
    paper_forms,
    rounds,
    sealing,
    stock_takes,
    transfers,
)
from tests import given, strong_room


def liven(scene: given.Scene, box: str) -> None:
    """Doors, keys, rounds and all else of a strong room.

    Args:
        box: a box on a shelf, under the seal PS-0002.
    """
    the_doors_and_keys(scene)
    a_round(scene, box)
    an_incident_and_the_climate(scene, box)
    a_box_out_and_one_on_the_way(scene)
    a_stock_take_and_a_hand_over(scene)
    paper_forms.issue_forms(room=scene.room, kind="moves", count=2, **act(scene))
    sealing.begin_sealing(
        scanned="002", room=scene.room, contest=scene.contests["12"], **act(scene)
    )


def act(scene: given.Scene) -> dict:
    return {"actor": scene.cast.custodian, "at": given.NOW}


def the_doors_and_keys(scene: given.Scene) -> None:
    """One opening that is closed, and one that one key holder alone began."""
    room = strong_room.two_locks(scene)
    first = strong_room.opened(room)
    strong_room.closed(room, first.number)
    strong_room.opened(room, second_key="")


def a_round(scene: given.Scene, box: str) -> None:
    """A round on which the seal of a box was not as recorded."""
    number = rounds.begin_round(room=scene.room, witness="Gil Keeper", **act(scene))
    rounds.see(
        inspection=number,
        shelf=scene.shelves[1],
        seen=rounds.Sight(scanned=box, seal_read="PS-0009", finding="intact-matches"),
        **act(scene),
    )


def an_incident_and_the_climate(scene: given.Scene, box: str) -> None:
    """Water in the room, and two readings out of limits."""
    incidents.report_incident(
        room=scene.room,
        kind="water",
        what="Water came through the ceiling above bay A.",
        noticed_at=given.NOW - timedelta(hours=1),
        noticed_by="Cora Keeper, custodian",
        containers=[incidents.Touched(box, "damp at the lower edge")],
        **act(scene),
    )
    for humidity in ("70", "72.5"):
        climate.record_reading(
            room=scene.room,
            temperature_c=Decimal("24.5"),
            humidity_percent=Decimal(humidity),
            **act(scene),
        )


def a_box_out_and_one_on_the_way(scene: given.Scene) -> None:
    """One box at a court, one with a driver on the way to the other room."""
    out = another_box(scene, "0", "1")
    order = given.a_permission(scene, [out], act="take-out", ref="HB/ORD/9")
    given.handed_out(scene, {out: ("PS-001",)}, order)
    sent = another_box(scene, "9", "2")
    transfers.hand_over_for_transfer(
        journey=transfers.Journey(
            scene.other_room, "ESC/MOVE/7", "Tove Brand, driver of the Steward’s office"
        ),
        containers=[transfers.Sent(sent, ("PS-002",))],
        **act(scene),
    )


def another_box(scene: given.Scene, unit: str, mark: str) -> str:
    """A closed box with an envelope of station 003, which had two pairs of units."""
    box = given.logged(
        scene, given.an_open_box(stations="003", label=f"{mark} of 2")
    ).number
    inside = given.an_envelope_on_the_table(
        station="003",
        name="Lamp House",
        control_unit=f"CU-11{unit}03",
        paper_trail_unit=f"PT-AA-11{unit}03",
        seal=f"W-110{mark}",
    )
    given.logged(scene, inside, box=box)
    boxes.close_box(
        box=box,
        seals=[given.paper_seal(f"PS-00{mark}")],
        sealed_on=given.COUNTED,
        **act(scene),
    )
    return box


def a_stock_take_and_a_hand_over(scene: given.Scene) -> None:
    """A sample that is to be drawn of packets, and a room that is handed over."""
    for n in range(6):
        packet = given.an_envelope_on_the_table(seal=f"W-{1000 + n}")
        given.logged(scene, replace(packet, kind=ContentKind.STATUTORY_PACKET))
    stock_takes.freeze_stock_take(
        plan=stock_takes.StockTakePlan(
            noun="envelope",
            purpose="Yearly verification",
            room=scene.room,
            lost=3,
            probability=Decimal("0.90"),
            seed_announced="The three draws of the Calvenna State Lottery",
            seed_on=given.TODAY + timedelta(days=2),
        ),
        **act(scene),
    )
    incoming = given.appointed(
        scene.cast.administrator, "nils.new", Role.CUSTODIAN, rooms=(scene.other_room,)
    )
    hand_overs.state_stock(
        plan=hand_overs.HandOverPlan(
            room=scene.room,
            outgoing=_number(scene.cast.custodian.person_id),
            incoming=_number(incoming.person_id),
            order="ESC/TR/4 of 1 November 2026",
        ),
        **act(scene),
    )


def _number(person_id: int) -> str:
    return User.objects.get(pk=person_id).number
