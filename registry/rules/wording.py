"""The one table of sentences: a reason code and its facts, said in English.

Rules return codes with facts; pages may say the same facts in another language.
A fact that is a date is shown as "4 May 2027", a kind of content by its name.
From ``length`` and ``unit`` comes ``{span}`` ("1 day", "2 months"); from
``direction`` comes ``{way}`` ("on", "back"); from ``first`` and ``last`` comes
``{closed}`` ("1 May 2027 is closed").
"""

import datetime
from collections.abc import Mapping

from registry.rules.wording_law import LAW_SENTENCES
from registry.rules.wording_retention import RETENTION_SENTENCES

MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

UNIT_NAMES = {
    "days": ("day", "days"),
    "working-days": ("working day", "working days"),
    "weeks": ("week", "weeks"),
    "months": ("month", "months"),
    "years": ("year", "years"),
}

KIND_NAMES = {
    "poll-slips": "poll slips",
    "mock-poll-slips": "mock-poll slips",
    "statutory-packet": "statutory packet",
}

WAYS = {"forward": "on", "backward": "back"}

SENTENCES = {
    **RETENTION_SENTENCES,
    **LAW_SENTENCES,
    # registry.rules.periods
    "period.event": "The event is on {event}.",
    "period.earlier-event": (
        "The event of {event} is earlier than that of {governs}; the later one counts."
    ),
    "period.first-day-excluded": (
        "The event's day, {event}, is not counted; {first} is day one."
    ),
    "period.first-day-included": "The event's day, {event}, is counted as day one.",
    "period.starts-day-after": (
        "The period starts afresh on the day after the event: {first} is day one."
    ),
    "period.starts-day-before": (
        "The period starts afresh on the day before the event: {first} is day one."
    ),
    "period.clear": (
        "The time must be clear: neither the event's day, {event}, nor the day of the "
        "act is counted; {first} is the first clear day."
    ),
    "period.no-closed-days": (
        "No closed days were given: every day is taken as a working day."
    ),
    "period.short": "A period of {limit} days or fewer: closed days are not counted.",
    "period.not-short": (
        "{span}: not a period of {limit} days or fewer, so closed days are counted."
    ),
    "period.not-counted": "{closed} ({reason}) and not counted.",
    "period.nothing-counted": "A period of no length ends on the event's day, {end}.",
    "period.days": "{span} counted {way}, {first} being day one: {end}.",
    "period.open-days": "{span} counted {way}, closed days left out: {end}.",
    "period.corresponding": (
        "{span} counted {way} from {begins}: the corresponding date is {end}."
    ),
    "period.before-corresponding": (
        "{span} counted on with {begins} included: the day before the corresponding "
        "date is {end}."
    ),
    "period.after-corresponding": (
        "{span} counted back with {begins} included: the day after the corresponding "
        "date is {end}."
    ),
    "period.no-corresponding": (
        "{span} counted {way} from {begins}: that month has no day {day}, so the "
        "period ends on the month's last day, {end}."
    ),
    "period.no-corresponding-back": (
        "{span} counted back with {begins} included: that month has no day {day}, so "
        "the period reaches back to the first day after that month, {end}."
    ),
    "period.last-to-last": (
        "{span} counted {way} from {begins}: from a month's last day to a month's "
        "last day, {end}."
    ),
    "period.last-to-last-back": (
        "{span} counted back with {begins} included: from a month's last day to the "
        "day after a month's last day, {end}."
    ),
    "period.extended": (
        "The period must hold working days: {wanted} at least; it held {held}, so it "
        "is extended to {end}."
    ),
    "period.clear-forward": (
        "The clear time ends with {end}: the first day on which it may happen is {day}."
    ),
    "period.clear-backward": (
        "The clear time reaches back to {end}: the last day on which it may be done is "
        "{day}."
    ),
    "period.kept-though-closed": (
        "{closed} ({reason}); under this rule the day stays where it falls."
    ),
    "period.next-open": (
        "{closed} ({reason}): the day moves to the next open day, {day}."
    ),
    "period.previous-open": (
        "{closed} ({reason}): the day moves to the open day before, {day}."
    ),
    "period.first-open-after": (
        "The day is the first open day strictly after {counted}: {day}."
    ),
}


class WordingError(LookupError):
    """A reason code without a sentence, or a sentence without its fact."""


def say(code: str, facts: Mapping[str, str | int | datetime.date]) -> str:
    """Say a reason code with its facts as one English sentence.

    Raises WordingError where the code has no sentence or a fact is missing.
    """
    if code not in SENTENCES:
        raise WordingError(f"No sentence is written for the reason code {code!r}.")
    words = {name: shown(fact) for name, fact in facts.items()} | _derived(facts)
    try:
        return SENTENCES[code].format_map(words)
    except KeyError as missing:
        raise WordingError(
            f"The reason code {code!r} lacks its fact {missing}."
        ) from None


def shown(fact: str | int | datetime.date) -> str:
    """Show a fact as it stands in a sentence: dates as "4 May 2027"."""
    if isinstance(fact, datetime.date):
        return f"{fact.day} {MONTH_NAMES[fact.month - 1]} {fact.year}"
    return str(fact)


def span(length: int, unit: str) -> str:
    """Name a length of time: "1 day", "45 days", "2 working days"."""
    one, many = UNIT_NAMES[unit]
    return f"{length} {one if length == 1 else many}"


def _derived(facts: Mapping[str, str | int | datetime.date]) -> dict[str, str]:
    words = {}
    if "kind" in facts:
        kind = str(facts["kind"])
        words["kind"] = KIND_NAMES.get(kind, kind)
    if "length" in facts and "unit" in facts:
        words["span"] = span(int(str(facts["length"])), str(facts["unit"]))
    if "direction" in facts:
        words["way"] = WAYS[str(facts["direction"])]
    if "first" in facts and "last" in facts:
        first, last = shown(facts["first"]), shown(facts["last"])
        one_day = first == last
        words["closed"] = (
            f"{first} is closed" if one_day else f"{first} to {last} are closed"
        )
    return words
