"""Retention schedules: how long each class of container is kept, as data.

A schedule is one TOML file per version. Nothing about a country's law stands in
code: a change of law is a new file with a higher ``version``. The keys are::

    code = "calvenna"             the schedule's own short name
    version = 3                   1, 2, 3 …; a version once in use is never edited
    title = "…"                   how it is called on screen and on paper
    law = "…"                     the law it rests on; the source of every clause
                                  that names no ``source`` of its own
    ordained_by = "…"             who ordained it
    order = "…"                   by which order
    in_force_from = 2024-03-01    from when
    seal_check_within_days = 0    how old a seal check may be on the day of an
                                  opening or disposal; 0 means made the same day
    note = "…"                    optional, shown with the schedule
    to_be_confirmed = false       optional; true: counsel has not confirmed it yet

    [confirmation]                the court registry's word that nothing is pending
    required = true
    clause = "…"                  the clause that asks for it; optional if not asked
    or_express_order = false      optional: the authority's express order may stand in
                                  its place

    [safety_margin]               optional: days beyond what the law asks
    inner_days = 0                after each window for a petition or an appeal
    outer_days = 0                after everything else has ended
    clause = "…"                  optional

    [class.poll-slips]            one for each class: poll-slips, mock-poll-slips,
                                  statutory-packet. A class left out is kept for ever
    destruction_level = "P-4"     P-1 to P-7 of ISO/IEC 21964: the coarsest allowed
    envelope_markings = ["…"]     what must stand on an envelope of the class
    box_markings = ["…"]          what must stand on a box
    per_station = 1               optional, of statutory-packet alone: how many are
                                  expected from each station; left out: nobody can say

    [[term]]                      any number; for each container the latest governs
    name = "petition-window"      its short name, once per class
    title = "…"
    for = ["poll-slips"]          the classes it binds
    after = ["result-declared"]   what starts it: result-declared, return-made,
                                  return-received, gazetted, polled, counted,
                                  papers-received, next-poll; where several are
                                  named, the latest of them
    direction = "forward"         optional; "backward" from next-poll alone: material
                                  kept until so long before the next election
    petition_window = true        optional: a confirmation must reach past its end
    clause = "…"
    source = "…"                  optional
    …                             the keys of a period, below

    [[appeal_window]]             after a decision nothing is settled before this
    name = "first-appeal"
    after = ["dismissed"]         the kinds of decision that open it
    levels = ["first"]            first, appeal, final: the court that decided
    waits = true                  optional; false: the decision settles at once, and
                                  the window is shown only
    clause = "…"
    source = "…"                  optional
    …                             the keys of a period

    [[authority]]                 any number: who may permit what
    authority = "…"               its title
    acts = ["open-box"]           enter-room, open-box, open-envelope, take-out, destroy
    for = ["poll-slips"]          the classes
    states = ["still-kept"]       case-pending, under-order, still-kept, free
    clause = "…"
    source = "…"                  optional

    [[notice]]                    any number: what must be announced before an act
    name = "notice to parties"
    title = "…"
    act = "destroy"
    clause = "…"
    source = "…"                  optional
    …                             the keys of a period, which counts backward

    [[sealing_step]]              any number: the checklist of the sealing table
    name = "slips-out"            its short name, once
    title = "…"                   what is asked or done
    where = "unit-set"            unit-set, envelope, station, box: what it is about
    asked = "tick"                tick, scan, count, text, paper
    records = "slip-count"        optional: what the answer tells, out of SealingFact
                                  in keeping_parts; each is told in one way
                                  (slip-count by count) of one thing (an envelope)
    required = true               optional
    for = ["poll-slips"]          optional: the contents for which it is asked
    caution = "sealing"           optional: the caution shown at this step
    help = "…"                    optional
    clause = "…"                  optional

    [inspection]                  optional: how often a room is walked, in days
    every_days = 90
    contested_every_days = 30     what a case or an order holds
    climate_every_days = 7        optional
    finding_due_days = 7          optional: when a finding must be dealt with
    clause = "…"                  optional

    [climate]                     optional: limits of a room, in whole °C and per cent
    lowest_c = 13
    highest_c = 23
    lowest_humidity = 35
    highest_humidity = 60
    source = "…"

    [[paper]]                     any number: how long an image on a paper lasts
    name = "thermal"              thermal, plain
    warn_after_months = 36        from the poll
    at_risk_after_months = 60
    source = "…"

The keys of a period, as in ``manage.py deadline``: ``length`` and ``unit`` (days,
working-days, weeks, months, years) must stand there; ``counting`` (exclude-first),
``month_end`` (corresponding), ``if_closed`` (keep), ``skip_closed_within`` (none) and
``at_least_working_days`` (none) have the defaults named in brackets. Two more say
which closed days move a last day: ``rolls_on`` (any-closed-day; not-receiving: only
days closed by a named notification; sundays-and-holidays) and
``forward_if_not_receiving`` (false): runs on from a day on which, by a named paper, an
event such as a storm stopped receipt, whichever way the time was counted.

In place of ``length`` and ``unit`` a term or an appeal window may have legs, each
headed ``[[term.legs]]`` or ``[[appeal_window.legs]]``, counted one after the other in
the order written: ten days and two months are not two months and ten days. A leg has
the keys of a period but the three that move a last day: these stand in the term and
bear on its last leg alone, since an end in between does not roll.

A retention floor does not roll: it says ``if_closed = "keep"`` or nothing. Two words
are refused where time runs forward: ``clear``, since N clear days are kept through
exactly when the period says ``exclude-first``; and ``previous-open``, which would
release early. A time that runs backward ends on the day it reaches; ``clear`` ends it
on the day before, so that what "may be destroyed 60 days before" is free on that day.

Any clause may say what it rests on: ``basis`` (ordained; looked-up; from-memory), and
``looked_up_in`` where it was looked up.

A decision below the last court for which no appeal window stands in the schedule
keeps the containers without end: the schedule does not say when it is settled.
"""

from registry.rules.schedule_parts import (
    AppealWindow,
    AuthorityRule,
    Basis,
    ClassRules,
    ContentKind,
    DestructionLevel,
    Notice,
    SafetyMargins,
    Schedule,
    Term,
    Trigger,
)
from registry.rules.schedule_text import ScheduleError, read_schedule

__all__ = [
    "AppealWindow",
    "AuthorityRule",
    "Basis",
    "ClassRules",
    "ContentKind",
    "DestructionLevel",
    "Notice",
    "SafetyMargins",
    "Schedule",
    "ScheduleError",
    "Term",
    "Trigger",
    "read_schedule",
]
