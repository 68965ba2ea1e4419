"""The demo's stock-takes: one that was concluded, one that waits for its seed."""

from decimal import Decimal

from registry.management.demo.scenes import Demo, Scene, seals_on
from registry.usecases import stock_take_looks, stock_takes
from registry.usecases._looked_at import Look

LOTTERY = "All balls of the draw of the Calvenna State Lottery, in the official gazette"


def scenes(demo: Demo) -> list[Scene]:
    """Return how stock was taken by sample."""
    return [
        Scene(demo.ago(60), 10, _freeze_quillmoor),
        Scene(demo.ago(58), 10, _draw),
        Scene(demo.ago(57), 10, _look),
        Scene(demo.ago(56), 10, _conclude),
        Scene(demo.ago(2), 10, _freeze_the_granary),
    ]


def _freeze_quillmoor(demo: Demo, scene: Scene) -> None:
    demo.numbered["stock-take"] = stock_takes.freeze_stock_take(
        plan=stock_takes.StockTakePlan(
            noun="envelope",
            purpose="Audit of envelopes that a petition holds",
            contest=demo.contests["12"],
            lost=5,
            probability=Decimal("0.90"),
            seed_announced=LOTTERY,
            seed_on=demo.ago(58),
        ),
        **scene.by(demo, "otto"),
    )


def _draw(demo: Demo, scene: Scene) -> None:
    stock_takes.draw_sample(
        stock_take=demo.numbered["stock-take"],
        seed="4 11 19 27 33 41",
        **scene.by(demo, "otto"),
    )


def _look(demo: Demo, scene: Scene) -> None:
    """A sealed box answers for every envelope in it that was drawn."""
    act = scene.by(demo, "otto")
    number = demo.numbered["stock-take"]
    page = stock_take_looks.look_at_stock_take(stock_take=number, **act)
    for thing in dict.fromkeys(item.look_at for item in page.file.items):
        is_box = thing.startswith("BX")
        read = seals_on(demo, scene, "otto", thing)[0] if is_box else ""
        stock_takes.look_at_drawn(
            stock_take=number,
            look=Look(thing, seal_read=read, finding="intact-matches"),
            **act,
        )


def _conclude(demo: Demo, scene: Scene) -> None:
    stock_takes.conclude_stock_take(
        stock_take=demo.numbered["stock-take"],
        conclusion="Everything that was drawn was found, sealed as recorded.",
        **scene.by(demo, "otto"),
    )


def _freeze_the_granary(demo: Demo, scene: Scene) -> None:
    """Its numbers became known today: whoever looks at the demo may type them in."""
    stock_takes.freeze_stock_take(
        plan=stock_takes.StockTakePlan(
            noun="envelope",
            purpose="Yearly stock-take of the Old Granary",
            room=demo.rooms["granary"],
            lost=10,
            seed_announced=LOTTERY,
            seed_on=demo.today,
        ),
        **scene.by(demo, "otto"),
    )
