"""What was issued for sealing in the demo, and what became of it."""

from registry.management.demo.scenes import Demo, Scene
from registry.usecases import materials
from registry.usecases.materials import Pieces

PRINTERS = "Calvenna Print Works"
# The numbers that stand on the boxes of each constituency, in the lists of intake.
SEALS = {
    "11": ("cora", "P40001", "P40016"),
    "12": ("cora", "P40017", "P40032"),
    "13": ("gil", "P40033", "P40048"),
    "14": ("gil", "P40049", "P40064"),
}
OFFICERS = {
    "11": "Isolde Tern, returning officer",
    "12": "Bram Sedge, returning officer",
    "13": "Petra Marsh, returning officer",
    "14": "Odo Fell, returning officer",
}


def scenes(demo: Demo) -> list[Scene]:
    """Return the issue before the count, and what came back after it."""
    return [
        Scene(demo.after_poll(2), 9, _issue),
        Scene(demo.after_poll(16), 9, _take_spares_back),
    ]


def _issue(demo: Demo, scene: Scene) -> None:
    """Issue the numbered seals; Harbour Reach asked for six spare ones."""
    for constituency, (keeper, first, last) in SEALS.items():
        _seals(demo, scene, constituency, keeper, first, last)
    demo.numbered["spares"] = _seals(demo, scene, "11", "cora", "P49001", "P49006")


def _seals(
    demo: Demo, scene: Scene, constituency: str, keeper: str, first: str, last: str
) -> str:
    return materials.issue_material(
        contest=demo.contests[constituency],
        kind="paper",
        pieces=Pieces(first=first, last=last),
        issued_on=scene.day,
        issued_to=OFFICERS[constituency],
        maker=PRINTERS,
        receipt=f"Stores {constituency}/{first}",
        **scene.by(demo, keeper),
    )


def _take_spares_back(demo: Demo, scene: Scene) -> None:
    """One was spoilt and is kept, four came back; of the sixth nobody has said."""
    act = {"lot": demo.numbered["spares"], "on": scene.day, **scene.by(demo, "cora")}
    materials.record_spoilt(
        pieces=Pieces(first="P49001", last="P49001"),
        kept_in="envelope S 11 in the safe of the returning officer",
        note="Torn while it was put on.",
        **act,
    )
    materials.record_returned(pieces=Pieces(first="P49002", last="P49005"), **act)
