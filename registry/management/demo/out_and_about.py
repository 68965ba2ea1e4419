"""What leaves its place in the demo: productions, transfers; and what goes wrong."""

from datetime import datetime, time, timedelta

from registry.management.demo.scenes import (
    COURT,
    Demo,
    Scene,
    boxes_of,
    countersign,
    record_order,
    seals_on,
)
from registry.rules.disposal_facts import Act
from registry.rules.schedules import ContentKind
from registry.usecases import incidents, shelves, taking_out, transfers

PACKETS, SLIPS = ContentKind.STATUTORY_PACKET, ContentKind.POLL_SLIPS


def scenes(demo: Demo) -> list[Scene]:
    """Return what goes out, what moves and what goes wrong."""
    ago = demo.ago
    return [
        Scene(ago(70), 9, _find_pests),
        Scene(ago(60), 9, _close_the_pests),
        Scene(ago(42), 11, _record_order_21),
        Scene(ago(41), 9, countersign("Order 21")),
        Scene(ago(40), 10, _hand_a_box_to_the_court),
        Scene(ago(26), 11, _send_a_box),
        Scene(ago(25), 11, _take_it_over),
        Scene(ago(4), 9, _find_water),
        Scene(ago(3), 10, _be_directed),
        Scene(ago(1), 9, _send_another),
    ]


# Out on the court's order


def _record_order_21(demo: Demo, scene: Scene) -> None:
    """The court wants the last box of Quillmoor's slips."""
    record_order(
        demo,
        scene,
        "Order 21",
        Act.TAKE_OUT,
        boxes_of(demo, scene, "aron", "12", SLIPS)[-1:],
        while_still_kept=True,
    )


def _hand_a_box_to_the_court(demo: Demo, scene: Scene) -> None:
    (box,) = boxes_of(demo, scene, "cora", "12", SLIPS)[-1:]
    act = scene.by(demo, "cora")
    taking_out.take_out(
        going=[taking_out.Going(box, seals_on(demo, scene, "cora", box))],
        permission=demo.orders["Order 21"],
        handing=taking_out.Handing(
            to_person="Wim Ferrule, clerk of the court",
            to_place=f"Registry of the {COURT}",
            second_person="Ansel Wick",
            confirmed_with="Registrar, under the number in the court’s almanac",
            confirmed_at=act["at"] - timedelta(hours=1),
            receipt="Receipt 214",
            expected_back_on=demo.ago(12),
        ),
        **act,
    )


# From room to room


def _send_a_box(demo: Demo, scene: Scene) -> None:
    (box,) = boxes_of(demo, scene, "gil", "13", PACKETS)[:1]
    demo.numbered["box sent"] = box
    demo.numbered["sent"] = _hand_over(demo, scene, "gil", "customs", box, "18")


def _take_it_over(demo: Demo, scene: Scene) -> None:
    box = demo.numbered["box sent"]
    act = scene.by(demo, "cora")
    transfers.take_over(
        transfer=demo.numbered["sent"],
        arrived=transfers.Arrived(
            box,
            demo.numbered["seal sent"],
            "intact-matches",
            witness="Ansel Wick",
        ),
        **act,
    )
    best = shelves.suggest_shelves(box=box, **act).shelves[0]
    shelves.put_away(scanned=[box, best.shelf], **act)


def _send_another(demo: Demo, scene: Scene) -> None:
    box = boxes_of(demo, scene, "cora", "12", ContentKind.MOCK_POLL_SLIPS)[-1]
    _hand_over(demo, scene, "cora", "granary", box, "34")


def _hand_over(
    demo: Demo, scene: Scene, who: str, to: str, box: str, order: str
) -> str:
    read = seals_on(demo, scene, who, box)
    demo.numbered["seal sent"] = read[0]
    return transfers.hand_over_for_transfer(
        journey=transfers.Journey(
            to_room=demo.rooms[to],
            order=f"Order {order} of the Electoral Steward",
            carrier="Hob Tiller, driver of the Steward’s van",
            vehicle_seal=f"V-{order}07",
        ),
        containers=[transfers.Sent(box, read)],
        **scene.by(demo, who),
    ).number


# What goes wrong


def _report(
    demo: Demo, scene: Scene, who: str, room: str, kind: str, what: str, **more: object
) -> str:
    act = scene.by(demo, who)
    return incidents.report_incident(
        room=demo.rooms[room],
        kind=kind,
        what=what,
        noticed_at=datetime.combine(scene.day, time(8), demo.now.tzinfo),
        **more,  # type: ignore[arg-type] # each as the act takes it
        **act,
    )


def _step(
    demo: Demo, scene: Scene, who: str, incident: str, act: str, text: str, paper: str
) -> None:
    incidents.record_step(
        incident=demo.numbered[incident],
        act=act,
        text=text,
        occurred_on=scene.day,
        reference=paper,
        **scene.by(demo, who),
    )


def _find_pests(demo: Demo, scene: Scene) -> None:
    demo.numbered["pests"] = _report(
        demo,
        scene,
        "gil",
        "granary",
        "pests",
        "Silverfish in the trap under bay B; none in or on a box.",
        noticed_by="Gil Hasp, keeper",
        whole_room=True,
        due_on=scene.day + timedelta(days=14),
    )


def _close_the_pests(demo: Demo, scene: Scene) -> None:
    _step(
        demo, scene, "gil", "pests", "reported", "Reported by letter.", "Letter OG/12"
    )
    _step(
        demo, scene, "gil", "pests", "done", "Traps empty for a week; floor swept.", ""
    )
    incidents.close_incident(
        incident=demo.numbered["pests"],
        because="Traps stayed empty; no box was touched.",
        **scene.by(demo, "gil"),
    )


def _find_water(demo: Demo, scene: Scene) -> None:
    wet = boxes_of(demo, scene, "cora", "12", PACKETS)
    conditions = ("Lower edge damp to 2 cm, seals whole.", "Dry; lifted clear.")
    demo.numbered["water"] = _report(
        demo,
        scene,
        "cora",
        "customs",
        "water",
        "Water on the floor of bay A, from the downpipe in the outer wall.",
        noticed_by="Cora Lanyard, keeper",
        containers=[
            incidents.Touched(box, condition)
            for box, condition in zip(wet, conditions, strict=True)
        ],
    )
    _step(
        demo, scene, "cora", "water", "reported", "Reported by letter.", "Letter CH/41"
    )


def _be_directed(demo: Demo, scene: Scene) -> None:
    _step(
        demo,
        scene,
        "aron",
        "water",
        "directed",
        "The boxes are dried unopened, in moving air and without heat.",
        "Direction 9 of this week",
    )
