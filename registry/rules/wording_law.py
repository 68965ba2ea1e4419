"""The sentences of limits extended, days rolled on and cases that go on elsewhere."""

LAW_SENTENCES = {
    # registry.rules.periods and registry.rules.rolling
    "period.next-leg": (
        "{span} end on {end}; an end in between does not move, and the next part is "
        "counted from it."
    ),
    "period.kept-not-receiving": (
        "{closed} ({reason}), but under this rule only days on which, by a "
        "notification, nothing was received move the last day: it stays."
    ),
    "period.kept-sundays-and-holidays": (
        "{closed} ({reason}), but under this rule only Sundays and holidays move the "
        "last day: it stays."
    ),
    "period.forward-again": (
        "{closed} ({reason}), and nothing was received: the day runs on to the next "
        "open day, {day}."
    ),
    # registry.rules.limits
    "limit.extended-without-end": (
        "By a general order ({order}) limits that end from {from_on} on are extended "
        "until a further order: {end} is not the end."
    ),
    "limit.extended": (
        "By a general order ({order}) limits are extended from {from_on} through "
        "{until}: the last day moves from {end} to {day}."
    ),
    "limit.margin": (
        "A safety margin of {span} after {end} is kept by the schedule ({clause}): "
        "{day}."
    ),
    # registry.rules.case_windows and registry.rules.cases
    "case.window-extended": (
        "Case {case} ({title}), {event} on {on} in the {court}: {window} ({clause}, "
        "{source}) is extended until a further order, so the case holds without an end "
        "date."
    ),
    "case.window-not-waited-for": (
        "Case {case} ({title}), {event} on {on} in the {court}: {window} ({clause}, "
        "{source}) runs through {through}, but the schedule does not wait for it."
    ),
    "case.part-not-entered": (
        "Case {case} ({title}), {event} on {on} in the {court}: the case in which that "
        "part goes on is not entered, so it holds here without an end date."
    ),
    "case.no-longer-expected": (
        "Case {case} ({title}) is {event} on {on} ({reason}): it holds through that "
        "day."
    ),
    "case.still-expected": (
        "Case {case}: the entry “{event}” on {on} counts for nothing; it needs a "
        "reason, and a case of which more is known is ended by its court alone."
    ),
    # registry.rules.retention
    "term.extended-without-end": (
        "“{term}” ({clause}, {source}) is extended until a further order; when it ends "
        "is not known, and unknown means keep."
    ),
    "term.backward": (
        "{contest}: {event} on {on}; “{term}” ({clause}, {source}) is counted back "
        "from it."
    ),
    "margin.outer": (
        "Everything else ends on {end}; the schedule keeps a safety margin of {span} "
        "beyond it ({clause}): keep through {through}."
    ),
}
