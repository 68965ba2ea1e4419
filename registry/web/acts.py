"""Which acts a person is offered on a container, by post and by how it stands."""

from collections.abc import Callable, Iterator
from typing import Any

from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.powers import Power
from registry.usecases.looks import ContainerFile

Act = dict[str, Any]


def acts_on(file: ContainerFile, may: Callable[[Power], bool]) -> list[Act]:
    """Return what this person may do with a container, most usual first."""
    if file.state in ("disposed", "superseded"):
        return list(_papers(file, may))
    acts: list[Act] = []
    if may(Power.RESOLVE) and file.state == "quarantined":
        acts.append(_link("Release from quarantine", "release", file))
    if may(Power.KEEP):
        acts += _keeping(file)
    acts += _under_permission(file, may)
    acts += _papers(file, may)
    return acts


def _link(label: str, name: str, file: ContainerFile, **more: Any) -> Act:
    return {"label": label, "url": reverse(name, args=[file.number]), **more}


def _keeping(file: ContainerFile) -> Iterator[Act]:
    held = file.state == "held"
    if file.noun == "box":
        if held and not file.is_closed:
            query = urlencode({"box": file.number})
            yield {
                "label": "Scan envelopes into it",
                "url": f"{reverse('fill-box')}?{query}",
            }
            yield _link("Close and seal", "close-box", file)
        if file.is_present:
            shelved = bool(file.shelf)
            label = "Move to another shelf" if shelved else "Put on a shelf"
            yield _link(label, "shelve", file)
    elif held and file.is_present and not file.box:
        yield _link("Put into a box", "put-in", file)
    if file.is_present and file.is_closed:
        yield _link("Check the seal", "check-seal", file)
    if file.is_present:
        yield _link("Hand over", "hand-over", file)
        yield _link("Report a discrepancy", "report", file)
        if file.kind != "statutory-packet":
            yield _link("Record the paper of its slips", "set-paper", file)
    query = urlencode({"container": file.number})
    yield {
        "label": "Report an incident",
        "url": f"{reverse('incident-new')}?{query}",
    }
    yield from _between_rooms(file)
    if file.whereabouts == "on the way to another room":
        return
    if file.whereabouts == "not found":
        yield _link("Report that it is found", "found", file)
    else:
        yield _link("Report that it is not found", "not-found", file)


def _between_rooms(file: ContainerFile) -> Iterator[Act]:
    if file.is_present and file.is_closed and not file.box:
        query = urlencode({"container": file.number})
        yield {
            "label": "Hand over for another room",
            "url": f"{reverse('transfer-new')}?{query}",
        }


def _under_permission(
    file: ContainerFile, may: Callable[[Power], bool]
) -> Iterator[Act]:
    query = urlencode({"container": file.number})
    if may(Power.OPEN) and file.is_present and file.is_closed and file.state == "held":
        yield {
            "label": "Open it under a permission",
            "url": f"{reverse('opening-new')}?{query}",
        }
        yield {
            "label": "Open it, and close its content in a new one",
            "url": f"{reverse('opening-new-cover')}?{query}",
        }
        yield {
            "label": "Take it out under a permission",
            "url": f"{reverse('take-out')}?{query}",
        }
    if may(Power.KEEP) and file.whereabouts in (
        "taken out under an order",
        "in the custody of a court",
    ):
        yield {
            "label": "Record that it came back",
            "url": f"{reverse('take-back')}?{query}",
        }
    if may(Power.LOOK):
        yield {
            "label": "What stands against disposal?",
            "url": f"{reverse('disposal-preview')}?{query}",
        }


def _papers(file: ContainerFile, may: Callable[[Power], bool]) -> Iterator[Act]:
    if may(Power.KEEP) and file.state != "superseded":
        address = f"{reverse('labels')}?{urlencode({'for': file.number})}"
        yield {"label": "Print its label", "url": address}
        if file.contents:
            yield {
                "label": "Print its label and those of its envelopes",
                "url": f"{address}&with=contents",
            }
        if file.intake:
            yield {
                "label": "Print the receipt of its intake",
                "url": reverse("intake-receipt", args=[file.intake]),
            }
    if file.contest:
        asked = {"as-of": file.retention.as_of, "known-at": file.retention.known_at}
        query = urlencode({name: at.isoformat() for name, at in asked.items() if at})
        yield {
            "label": "Print the reasoning",
            "url": f"{reverse('reasoning', args=[file.number])}?{query}",
        }
