"""What every part of the demo's story works with: its scenes, and what it knows."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from registry.management.demo.files import poll_day
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor
from registry.rules.schedules import ContentKind
from registry.usecases import looks, permissions

STEWARD = "Electoral Steward of Calvenna"
COURT = "High Bench of Calvenna"


@dataclass
class Demo:
    """The scenario while it is being played: whom it knows and what it numbered."""

    today: date
    now: datetime
    say: Callable[[str], object]
    actors: dict[str, Actor] = field(default_factory=dict)
    contests: dict[str, str] = field(default_factory=dict)
    rooms: dict[str, str] = field(default_factory=dict)
    election: str = ""
    calendar: str = ""
    cases: dict[str, str] = field(default_factory=dict)
    orders: dict[str, str] = field(default_factory=dict)
    # What the rooms' keepers know: who holds which key, the seals on each door.
    holdings: dict[tuple[str, str], str] = field(default_factory=dict)
    doors: dict[str, str] = field(default_factory=dict)
    door_seals: dict[str, str] = field(default_factory=dict)
    numbered: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.poll = poll_day(self.today)

    def after_poll(self, days: int) -> date:
        """Return the day so many days after the poll."""
        return self.poll + timedelta(days=days)

    def ago(self, days: int) -> date:
        """Return the day that lies so many days back."""
        return self.today - timedelta(days=days)


@dataclass(frozen=True)
class Scene:
    """What happens at one moment of the story."""

    day: date
    hour: int
    play: Callable[[Demo, "Scene"], None]

    def by(self, demo: Demo, who: str) -> dict[str, Any]:
        """Return who acts and when; the moment never lies after now."""
        moment = datetime.combine(self.day, time(self.hour), demo.now.tzinfo)
        return {"actor": demo.actors[who], "at": min(moment, demo.now)}


def boxes_held(demo: Demo, scene: Scene, who: str, **wanted: str) -> Iterator[str]:
    """Walk a list of boxes page by page, as somebody at the screen would."""
    after: int | None = 0
    while after is not None:
        page = looks.list_boxes(
            wanted=looks.Wanted(state="held", after=after, **wanted),
            **scene.by(demo, who),
        )
        yield from (row.number for row in page.rows)
        after = page.next_after


def boxes_of(
    demo: Demo, scene: Scene, who: str, constituency: str, kind: ContentKind
) -> list[str]:
    contest = demo.contests[constituency]
    return list(boxes_held(demo, scene, who, contest=contest, kind=kind.value))


def record_order(
    demo: Demo, scene: Scene, order: str, act: Act, things: list[str], **more: Any
) -> None:
    demo.orders[order] = permissions.record_permission(
        election=demo.election,
        authority=STEWARD,
        order_ref=order,
        dated=scene.day,
        valid_from=scene.day,
        valid_until=scene.day + timedelta(days=60),
        act=act,
        things=things,
        **more,
        **scene.by(demo, "aron"),
    )


def countersign(order: str) -> Callable[[Demo, Scene], None]:
    def play(demo: Demo, scene: Scene) -> None:
        permissions.countersign_permission(
            permission=demo.orders[order], **scene.by(demo, "bea")
        )

    return play


def seals_on(demo: Demo, scene: Scene, who: str, box: str) -> tuple[str, ...]:
    """Return what stands on a box's seals, as somebody before it would read it."""
    seals = looks.look_at_box(box=box, **scene.by(demo, who)).seals
    return tuple(seal.serial for seal in seals)
