"""Say until when a container is kept, and why, step by step."""

import json
from datetime import date, datetime
from typing import Any

from django.core.management.base import CommandParser
from django.utils.dateparse import parse_date
from django.utils.timezone import localtime

from registry.management.base import Refused, RegistryCommand, WrongUsage, known_at
from registry.management.who import acting
from registry.rules.powers import Role
from registry.usecases import NotThere
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.explaining import Explanation, When, explain

AID = "Computed dates are an aid: the statute, the court and counsel decide."


class Command(RegistryCommand):
    help = "Say until when a container is kept, and why, step by step."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("number", metavar="REGISTER_NUMBER")
        parser.add_argument("--as-of", help="the day asked about, YYYY-MM-DD")
        parser.add_argument(
            "--known-at",
            help="answer with what the register knew then: YYYY-MM-DD (its end) or "
            "YYYY-MM-DDTHH:MM",
        )
        parser.add_argument(
            "--when",
            type=When,
            choices=tuple(When),
            help="answer with what the register knew when the disposal was permitted "
            "(countersigned), or carried out",
        )
        parser.add_argument("--as", dest="username", help="log-in name of the asker")
        parser.add_argument("--json", action="store_true")

    def handle(self, *, number: str, **options: Any) -> None:
        if options["when"] and options["known_at"]:
            raise WrongUsage("give --when or --known-at, not both")
        actor = acting(options["username"], Role.AUDITOR)
        try:
            found = explain(
                container=number,
                as_of=_day(options["as_of"]),
                known_at=known_at(options["known_at"], self.at),
                when=options["when"],
                actor=actor,
                at=self.at,
            )
        except (NotThere, RefusedByTheRegister) as error:
            raise Refused(str(error)) from error
        self.stdout.write(_as_json(found) if options["json"] else _as_text(found))


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        day = parse_date(text)
    except ValueError:
        day = None
    if day is None:
        raise WrongUsage(f"--as-of {text} is no day; write YYYY-MM-DD")
    return day


def _as_text(found: Explanation) -> str:
    told = found.retention
    lines = [
        f"{found.number}  {found.noun}, {found.content.lower()}, {found.contest}",
        f"As of {found.as_of:%-d %B %Y}"
        + f", {_knowledge(found.known_at)}: {found.state}",
    ]
    if told is None:
        lines.append("Kept: it is not known which contest it stands for.")
        return "\n".join([*lines, AID])
    lines.append(told.summary)
    for step in told.steps:
        mark = "=>" if step.decides else "  "
        lines.append(f"{mark} {step.date or '          '}  {step.text}")
    lines += [f"By {found.schedule}.", AID]
    return "\n".join(lines)


def _knowledge(known_at: datetime | None) -> str:
    if known_at is None:
        return "with what is known now"
    moment = localtime(known_at)
    return f"with what the register knew on {moment:%-d %B %Y, %H:%M:%S (UTC%z)}"


def _as_json(found: Explanation) -> str:
    told = found.retention
    answer: dict[str, Any] = {
        "number": found.number,
        "as_of": found.as_of.isoformat(),
        "known_at": found.known_at.isoformat() if found.known_at else None,
        "state": found.state,
        "schedule": found.schedule,
        "retain_through": _iso(told.retain_through if told else None),
        "may_be_disposed_from": _iso(told.may_be_disposed_from if told else None),
        "is_over": bool(told and told.is_over),
        "reason": told.reason.value if told else "unknown-input",
        "governed_by": told.governed_by if told else "",
        "summary": told.summary if told else "",
        "steps": [
            {
                "date": _iso(step.date),
                "text": step.text,
                "clause": str(step.facts.get("clause", "")),
                "source": str(step.facts.get("source", "")),
                "decides": step.decides,
            }
            for step in (told.steps if told else ())
        ],
        "note": AID,
    }
    return json.dumps(answer, ensure_ascii=False, indent=2)


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
