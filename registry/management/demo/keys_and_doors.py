"""The demo's keys, and the doors that were opened with them.

Most openings have two key holders, as they must. One was opened by one alone, one is
open since yesterday, one waits for its second holder's word: these stand out.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import partial

from registry.management.demo.scenes import Demo, Scene
from registry.usecases import door_people, doors, key_looks, keys
from registry.usecases.doors import Present

KEEPERS = {"customs": "cora", "granary": "gil"}
# Holders without a log-in: the second key lies with another office.
TREASURERS = {
    "customs": ("Ansel Wick", "District treasurer, Harbour Reach"),
    "granary": ("Marla Quern", "Clerk of the district treasury, Saltmere"),
}
BANK = "Sealed cover 7, safe of the district treasury"
ANSEL, MARLA, ALONE = "Ansel Wick", "Marla Quern", ""


@dataclass(frozen=True)
class Visit:
    """A door that was opened and, unless ``until`` is 0, closed at these hours."""

    room: str
    hour: int
    until: int
    purpose: str
    done: str
    second: str = ANSEL
    note: str = ""
    permission: str = ""
    present: tuple[Present, ...] = ()


def scenes(demo: Demo) -> list[Scene]:
    """Return what happens with keys and doors."""
    after, ago = demo.after_poll, demo.ago
    party = (Present("Ida Rill", "Party agent"),)
    shredder = (*party, Present("Wim Ferrule", "Clerk of the court"))
    roofer = Present("Tobias Slate", "Roofer", escort="Gil Hasp")
    took_in = "Boxes taken in, counted at the table and locked away."
    visits = [
        (after(3), Visit("customs", 17, 22, "intake", took_in, present=party)),
        (after(3), Visit("granary", 17, 22, "intake", took_in, MARLA)),
        (after(13), Visit("customs", 19, 21, "intake", took_in)),
        (after(13), Visit("granary", 19, 21, "intake", took_in, MARLA)),
        (after(14), Visit("customs", 10, 12, "intake", "Boxes put away.")),
        (after(14), Visit("granary", 10, 12, "intake", "Boxes put away.", MARLA)),
        (ago(95), Visit("customs", 9, 13, "round", "Room walked.", "Ivo Marline")),
        (ago(57), Visit("customs", 9, 12, "stock", "Sample looked at by the auditor.")),
        (ago(40), Visit("customs", 9, 11, "production", "A box handed to the court.")),
        (ago(33), Visit("customs", 9, 12, "round", "Boxes under a case walked.")),
        (ago(26), Visit("granary", 10, 12, "transfer", "A box handed over.", MARLA)),
        (ago(25), Visit("customs", 10, 12, "transfer", "A box taken over, put away.")),
        (ago(24), Visit("granary", 8, 13, "round", "Whole room walked.", MARLA)),
        (
            ago(14),
            Visit(
                "customs",
                8,
                12,
                "opening",
                "Mock-poll slips of Harbour Reach brought out and destroyed.",
                permission="Order 22",
                present=shredder,
            ),
        ),
        (
            ago(7),
            Visit(
                "customs",
                6,
                7,
                "emergency",
                "Found dry and in order; a window of the passage had been left open.",
                ALONE,
                note="The smoke alarm rang; the treasurer could not be reached.",
            ),
        ),
        (ago(4), Visit("customs", 8, 10, "emergency", "Wet floor dried, two boxes "
                       "lifted clear.", note="Water on the floor of bay A.")),
        (ago(2), Visit("customs", 9, 18, "intake", "Stations of Eel Sound sealed.",
                       "Ivo Marline")),
        (ago(1), Visit("customs", 9, 10, "transfer", "A box handed to the carrier.")),
        (ago(1), Visit("granary", 15, 0, "repair", "", MARLA, present=(roofer,))),
    ]  # fmt: skip
    return [
        Scene(after(-28), 9, _fit_locks),
        Scene(after(-27), 9, _issue_keys),
        Scene(ago(94), 9, _confirm_the_round),
        *(scene for day, visit in visits for scene in _scenes_of(day, visit)),
    ]


def _scenes_of(day: date, visit: Visit) -> Iterator[Scene]:
    yield Scene(day, visit.hour, partial(_open, visit))
    if visit.until:
        yield Scene(day, visit.until, partial(_close, visit))


def _fit_locks(demo: Demo, scene: Scene) -> None:
    demo.say("fitting locks, and handing out keys by appointment")
    for room, keeper in KEEPERS.items():
        act = scene.by(demo, keeper)
        for name, marks in (("upper", ("U1",)), ("lower", ("L1", "L2"))):
            keys.fit_lock(
                room=demo.rooms[room],
                name=f"{name} lock",
                fitted_on=scene.day,
                keys=marks,
                duplicates=(f"{name[0].upper()}9",),
                **act,
            )


def _issue_keys(demo: Demo, scene: Scene) -> None:
    for room, keeper in KEEPERS.items():
        act = scene.by(demo, keeper)
        numbers = {
            key.mark: key.number
            for lock in key_looks.look_at_room_keys(room=demo.rooms[room], **act).locks
            for key in lock.keys
        }
        treasurer, post = TREASURERS[room]
        holders = [("U1", "", "Keeper of the strong room", keeper)]
        holders += [("L1", treasurer, post, "")]
        if room == "customs":
            holders += [("L2", "", "Second keeper, for openings at night", "ivo")]
        for mark, holder, post, username in holders:
            number = keys.issue_key(
                key=numbers[mark],
                holder=holder,
                appointment=post,
                username=username,
                **act,
            )
            demo.holdings[room, holder or username] = number
        for mark in ("U9", "L9"):
            keys.deposit_key(key=numbers[mark], place=BANK, sealed=True, **act)


def _open(visit: Visit, demo: Demo, scene: Scene) -> None:
    keeper = KEEPERS[visit.room]
    second = "ivo" if visit.second == "Ivo Marline" else visit.second
    opened = doors.open_door(
        room=demo.rooms[visit.room],
        purpose=visit.purpose,
        first_key=demo.holdings[visit.room, keeper],
        second_key=demo.holdings[visit.room, second] if second else "",
        present=visit.present,
        seals_found=demo.door_seals.get(visit.room, ""),
        seals_found_state="whole" if visit.room in demo.door_seals else "",
        permission=demo.orders[visit.permission] if visit.permission else "",
        note=visit.note,
        **scene.by(demo, keeper),
    )
    demo.doors[visit.room] = opened.number


def _close(visit: Visit, demo: Demo, scene: Scene) -> None:
    used = demo.numbered.setdefault(f"door seals {visit.room}", "0")
    first = int(used) + 1
    demo.numbered[f"door seals {visit.room}"] = str(first + 1)
    letter = visit.room[0].upper()
    seals = f"D{letter}-{first:04}, D{letter}-{first + 1:04}"
    doors.close_door(
        session=demo.doors[visit.room],
        seals_put_on=seals,
        done=visit.done,
        waste="none",
        all_left=True,
        **scene.by(demo, KEEPERS[visit.room]),
    )
    demo.door_seals[visit.room] = seals


def _confirm_the_round(demo: Demo, scene: Scene) -> None:
    """Ivo confirms from the own log-in what Cora entered the day before."""
    door_people.confirm_opening(session=demo.doors["customs"], **scene.by(demo, "ivo"))
