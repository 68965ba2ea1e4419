"""One timeline of a record: every version of it and every look at it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import models

from registry.models import AccessEntry, FallbackUse

# Enough for any page; the rest is a report.
NEWEST = 200

ACT_WORDS = {
    "intake.table": "intake table looked at",
    "intake.begin": "intake begun",
    "intake.log": "logged at intake",
    "intake.check_file": "list of containers checked",
    "intake.refused_lines": "refused lines of a list given out",
    "intake.take_file": "logged from a list",
    "box.put_in": "put into a box",
    "box.close": "closed and sealed",
    "box.shelve": "put on a shelf",
    "seal.check": "seal checked",
    "container.hand_over": "handed over",
    "container.not_found": "reported not found",
    "container.found": "found",
    "container.discrepancy": "discrepancy reported",
    "container.release": "released from quarantine",
    "container.open": "opened under a permission",
    "container.take_out": "taken out under a permission",
    "container.take_back": "came back",
    "discrepancy.resolve": "discrepancy resolved",
    "disposal.carry_out": "disposed of",
    "disposal.preview": "asked what stands against disposal",
    "box.look": "looked at",
    "envelope.look": "looked at",
    "box.list": "seen in a list of boxes",
    "envelope.list": "seen in a list of envelopes",
    "register.find": "found by a search",
    "report.retention": "counted in a retention report",
    "label.print": "label printed",
    "receipt.print": "receipt printed",
    "reasoning.print": "reasoning printed",
    "case.enter": "case entered",
    "case.record_event": "event recorded",
    "case.strike_event": "event struck",
    "case.look": "looked at",
    "permission.record": "permission recorded",
    "permission.countersign": "countersigned",
    "permission.revoke": "revoked",
    "permission.look": "looked at",
    "container.prepare": "taken up for an act",
    "container.prepare_release": "taken up for release from quarantine",
    "discrepancy.list": "seen in a list of discrepancies",
    "discrepancy.give": "owner and day of a discrepancy set",
    "discrepancy.prepare_giving": "opened to set the owner of a discrepancy",
    "discrepancy.look": "a discrepancy of it looked at",
    "intake.look": "seen on the page of its intake",
    "case.list": "seen in a list of cases",
    "case.name": "court's number recorded",
    "case.change_scope": "what it covers recorded anew",
    "case.link": "link with another case recorded",
    "case.suppose": "asked what an entry would change",
    "order.suppose": "asked what an entry would change",
    "contest.suppose": "asked what new dates would change",
    "container.explain": "reasoning read",
    "case.prepare": "opened to enter something",
    "order.enter": "order to preserve entered",
    "order.lift": "order lifted",
    "order.list": "seen in a list of orders",
    "order.look": "looked at",
    "order.prepare": "opened to enter something",
    "confirmation.enter": "confirmation entered",
    "confirmation.withdraw": "confirmation withdrawn",
    "confirmation.list": "seen in a list of confirmations",
    "confirmation.prepare": "opened to enter a confirmation",
    "contest.look": "looked at",
    "contest.record_dates": "dates recorded",
    "contest.prepare": "opened to record dates",
    "permission.read_to_sign": "read before signing",
    "permission.propose": "read before an order was recorded",
    "permission.list": "seen in a list of permissions",
    "disposal.review": "disposal reviewed before it was carried out",
    "disposal.prepare": "read before a disposal",
    "disposal.list": "seen in a list of disposals",
    "disposal.look": "looked at",
    "session.log_in": "log-in",
    "session.log_out": "log-out",
    "desk.look": "desk looked at",
    "access.list": "accesses read",
    "history.verify": "records held against their history",
    "election.list": "list of elections read",
    "election.look": "looked at",
    "election.set_up": "election entered",
    "contest.set_up": "contest entered",
    "station.list": "stations read",
    "stations.check_list": "station list checked",
    "stations.load_list": "station list loaded",
    "schedule.list": "list of schedules read",
    "schedule.look": "looked at",
    "schedule.adopt": "schedule adopted",
    "calendar.list": "list of calendars read",
    "calendar.look": "looked at",
    "calendar.set_up": "calendar entered",
    "calendar.close": "closed days entered",
    "room.list": "list of strong rooms read",
    "room.look": "looked at",
    "room.own": "own strong rooms read",
    "room.free_shelves": "free shelves read",
    "room.set_up": "strong room entered",
    "room.extend": "bays added",
    "set_up.prepare": "a form of set-up opened",
    "person.list": "list of people read",
    "person.look": "looked at",
    "person.prepare": "a form about an appointment opened",
    "person.appoint": "appointed",
    "person.appoint_first": "appointed as the first",
    "person.change_post": "post and charge changed",
    "person.end": "appointment ended",
    "person.set_password": "new password given",
    "person.change_own_password": "own password changed",
    "report.prepare": "form of the retention report opened",
    "document.look": "paper given out",
    "opening.prepare": "read before an opening",
    "room.prepare": "read before a room was entered",
    "room.enter": "strong room entered",
    "calendar.look_at_entry": "looked at",
    "calendar.preview": "asked what a change would move",
    "calendar.change": "calendar changed",
    "calendar.check_list": "list of holidays checked",
    "calendar.import_list": "list of holidays entered",
    "schedule.compare": "compared with another version",
    "election.look_at_schedule": "its retention schedule looked at",
    "election.preview_schedule": "asked what another schedule would change",
    "election.change_schedule": "moved to another retention schedule",
    "report.stock": "counted in a stock account",
    "round.begin": "inspection round begun",
    "round.see": "seen on an inspection round",
    "round.type_in": "typed in from the sheet of a round",
    "round.look_in_vain": "looked for in vain on a round",
    "round.end": "inspection round ended",
    "round.list": "list of rounds read",
    "round.look": "on the page of a round",
    "round.look_at_shelf": "on the page of a shelf that is walked",
    "round.prepare": "form of a round opened",
    "round.print_sheet": "on the printed sheet of a round",
    "climate.record": "climate recorded",
    "climate.look": "its climate looked at",
    "climate.list": "climate of the rooms read",
    "envelope.set_paper": "paper of the slips recorded",
    "contest.set_paper": "paper of the slips recorded",
    "image.list": "in the list of images at risk",
    "stock_take.freeze": "listed for a stock-take",
    "stock_take.draw": "drawn for a stock-take",
    "stock_take.look_at_one": "looked at in a stock-take",
    "stock_take.conclude": "stock-take concluded",
    "stock_take.abandon": "stock-take given up",
    "stock_take.list": "list of stock-takes read",
    "stock_take.look": "seen on the page of a stock-take",
    "stock_take.prepare": "form of a stock-take opened",
    "stock_take.reckon": "asked how many a stock-take would look at",
    "stock_take.print": "printed with a stock-take",
    "hand_over.state": "stated for a hand-over of charge",
    "hand_over.restate": "stated anew for a hand-over of charge",
    "hand_over.look_at_one": "looked at in a hand-over of charge",
    "hand_over.sign_out": "signed by the one who hands over",
    "hand_over.sign_in": "handed over with the charge of its room",
    "hand_over.give_up": "hand-over of charge given up",
    "hand_over.list": "list of hand-overs read",
    "hand_over.look": "seen on the page of a hand-over of charge",
    "hand_over.prepare": "form of a hand-over of charge opened",
    "hand_over.print": "printed with a hand-over of charge",
    "incident.report": "touched by an incident that was reported",
    "incident.add": "named in an incident",
    "incident.step": "step of the follow-up entered",
    "incident.close": "incident closed",
    "incident.list": "list of incidents read",
    "incident.look": "an incident with it looked at",
    "incident.prepare": "form of an incident opened",
    "incident.print": "report of an incident drafted",
    "scan.look": "in hand at the scanner",
    "scan.read": "scanned",
    "label.prepare": "opened to be labelled",
    "paper_form.list": "list of paper forms read",
    "paper_form.look": "looked at",
    "paper_form.issue": "paper forms numbered",
    "paper_form.print": "paper form printed",
    "paper_form.prepare_print": "opened to be printed",
    "paper_form.prepare": "opened to enter something",
    "paper_form.mark_entered": "entered in full",
    "paper_form.spoil": "recorded as spoilt",
    "paper_form.return": "returned blank",
    "paper_form.report_lost": "reported as not accounted for",
    "paper_form.report_found": "found",
    "sealing.list": "sealing table looked at",
    "sealing.look": "looked at at the sealing table",
    "sealing.begin": "brought to the sealing table",
    "sealing.keep": "answer kept at the sealing table",
    "sealing.finish": "sealed at the sealing table",
    "sealing.leave": "left off at the sealing table",
    "box.suggest_shelves": "a shelf suggested for it",
    "box.put_away_many": "put on a shelf with others",
    "box.prepare_put_away": "seen in a list of boxes to put away",
    "shelf.look": "looked at",
    "shelf.set": "changed",
    "room.look_at_plan": "seen on the plan of its room",
    "reconciliation.look": "seen in the reconciliation of its contest",
    "reconciliation.list": "reconciliation of every contest looked at",
    "reconciliation.open": "discrepancy opened for a difference",
    "votes.record": "votes of a control unit recorded",
    "votes.record_list": "list of votes recorded",
    "material.issue": "issue of material recorded",
    "material.spoil": "spoilt material recorded",
    "material.return": "returned material recorded",
    "material.lose": "lost material recorded",
    "material.list": "material of every contest looked at",
    "material.look": "account of its material looked at",
    "material.open": "discrepancy opened for material",
    "report.material": "account of its material printed",
    "report.reconciliation": "counted in the report of a reconciliation",
    "key.fit_lock": "lock entered",
    "key.replace_lock": "lock replaced",
    "key.add": "key entered",
    "key.issue": "key issued",
    "key.take_back": "key taken back",
    "key.deposit": "key deposited",
    "key.lost": "key reported lost",
    "key.list": "key register read",
    "key.look": "looked at",
    "key.look_at_room": "key register of the room looked at",
    "key.look_at_lock": "lock taken up for an act",
    "door.open": "door opened",
    "door.confirm": "opening confirmed by the second key holder",
    "door.confirm_here": "opening confirmed by the second holder's password",
    "door.came": "somebody came in",
    "door.left": "somebody left",
    "door.close": "door closed",
    "door.list": "seen in the door log",
    "door.look": "looked at",
    "door.prepare": "form of an opening taken up",
    "door.rooms": "own strong rooms read",
    "door.prepare_log": "door log taken up for printing",
    "door.print_log": "door log printed",
    "custody.gaps": "read among gaps of custody",
    "custody.print": "chain of custody printed",
    "container.prepare_taking_out": "read before it was handed out",
    "container.prepare_return": "read before it was taken back",
    "container.kept_by_court": "kept by a court",
    "container.sent_on": "sent on to another",
    "production.list": "list of what is out looked at",
    "production.look": "its way out and back looked at",
    "production.note": "receipt or expected return noted",
    "production.receipt": "receipt of the handing out printed",
    "permission.pick_list": "pick list printed",
    "transfer.hand_over": "handed over for another room",
    "transfer.take_over": "taken over into another room",
    "transfer.not_arrived": "recorded as not arrived",
    "transfer.come_back": "came back from the way",
    "transfer.confirm_order": "authority’s word on the move recorded",
    "transfer.list": "list of transfers read",
    "transfer.look": "seen on its transfer",
    "transfer.prepare": "form of a transfer opened",
    "transfer.print": "transfer note printed",
}


@dataclass(frozen=True)
class TimelineEntry:
    """One change, look or refusal.

    Attributes:
        kind: the word for it, for a change the act that made it.
        shape: change, look or refused.
        source: from where, by address and channel; or the paper form it stood on.
        recorded_at: when it was entered, where that was later than it happened.
    """

    at: datetime
    who: str
    what: str
    source: str
    kind: str
    shape: str
    reason: str = ""
    recorded_at: datetime | None = None


def timeline_of(
    record: models.Model,
    *,
    beside: Iterable[models.Model] = (),
    wider: Iterable[str] = (),
) -> list[TimelineEntry]:
    """Return the newest changes and looks of a record, newest first.

    Args:
        beside: records whose changes belong to it, such as its seals.
        wider: numbers of what contains it; a report on these showed it too.
    """
    entries = [*_changes(record)]
    for other in beside:
        entries += _changes(other, prefix=f"{other._meta.verbose_name} {other}: ")
    entries = _when_they_happened(record, entries)
    entries += _looks(record, wider)
    entries.sort(key=lambda entry: entry.at, reverse=True)
    return entries[:NEWEST]


def _when_they_happened(
    record: models.Model, entries: list[TimelineEntry]
) -> list[TimelineEntry]:
    """Put what was entered later from a paper form where it happened."""
    uses = FallbackUse.objects.filter(subject=record.number).select_related("form")  # type: ignore[attr-defined]
    by_act = {(words_for(u.act).capitalize(), u.recorded_at): u for u in uses}
    placed = []
    for entry in entries:
        use = by_act.get((entry.kind, entry.at))
        if use:
            entry = replace(
                entry,
                at=use.occurred_at,
                recorded_at=use.recorded_at,
                source=f"paper form {use.form.number}",
            )
        placed.append(entry)
    return placed


def words_for(act: str) -> str:
    """Return an act in plain words."""
    return ACT_WORDS.get(act, act.replace(".", ": ").replace("_", " "))


def _changes(record: models.Model, prefix: str = "") -> list[TimelineEntry]:
    versions = list(
        record.history.select_related("history_user").order_by("history_id")  # type: ignore[attr-defined]
    )
    entries = []
    for index, version in enumerate(versions):
        if index:
            what = "; ".join(_differences(record, versions[index - 1], version))
        else:
            what = "entered"
        act = words_for(version.history_change_reason or "")
        entries.append(
            TimelineEntry(
                at=version.history_date,
                who=str(version.history_user or "a terminal"),
                what=f"{prefix}{what or 'saved without a change'}",
                source="",
                kind=act.capitalize() or "Changed",
                shape="change",
            )
        )
    # Of several in one moment the later one stands first, as in the whole.
    return entries[::-1]


def _differences(record: models.Model, before: Any, after: Any) -> list[str]:
    changed = []
    for field in record._meta.concrete_fields:
        if not hasattr(after, field.attname):
            continue
        old, new = getattr(before, field.attname), getattr(after, field.attname)
        if old != new:
            changed.append(
                f"{field.verbose_name}: {_shown(field, old)} → {_shown(field, new)}"
            )
    return changed


def _shown(field: "models.Field[Any, Any]", value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(field, models.ForeignKey):
        row = field.related_model._base_manager.filter(pk=value).first()
        return str(row or value)
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    return str(value)


def _looks(record: models.Model, wider: Iterable[str]) -> list[TimelineEntry]:
    number = record.number  # type: ignore[attr-defined]
    direct = models.Q(subject=number)
    wide = models.Q(subject__in=list(wider), act__startswith="report.")
    shown = models.Q(
        pk__in=list(
            AccessEntry.objects.filter(shown__number=number)
            .order_by("-id")
            .values_list("pk", flat=True)[:NEWEST]
        )
    )
    rows = AccessEntry.objects.filter(direct | wide | shown).order_by("-id")[:NEWEST]
    return [
        TimelineEntry(
            at=row.at,
            who=row.name or "somebody not logged in",
            what=words_for(row.act),
            source=" ".join(filter(None, [row.address, f"({row.channel})"])),
            kind="Refused" if row.outcome != "done" else _kind(row.act),
            shape="refused" if row.outcome != "done" else "look",
            reason=row.reason,
        )
        for row in rows
    ]


def _kind(act: str) -> str:
    looks = (
        ".look", ".list", ".find", ".preview", ".prepare", ".check_", ".compare",
        "report.", ".print",
    )  # fmt: skip
    return "Look" if any(part in act for part in looks) else "Act"
