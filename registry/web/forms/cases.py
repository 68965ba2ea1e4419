"""Forms about cases: what happened in court, and what it covers."""

import re
from typing import Any

from django import forms

from registry.rules.case_events import (
    EVENT_TITLES,
    LEVEL_TITLES,
    CaseEventKind,
)
from registry.web.forms.days import DayField
from registry.web.forms.scans import ScanField

# The kinds of proceeding, in the order in which the legal cell meets them.
KINDS = (
    ("election-petition", "election petition"),
    ("writ", "writ or public-interest petition"),
    ("criminal", "criminal case"),
    ("other", "other proceeding"),
)
STANDINGS = (
    ("", "any"),
    ("pending", "pending"),
    ("appeal-window", "decided, not settled"),
    ("settled", "settled"),
    ("not-begun", "holds nothing"),
)
EVENTS = [("", "choose what happened")] + [
    (kind.value, title) for kind, title in EVENT_TITLES.items()
]
LEVELS = [(level.value, title) for level, title in LEVEL_TITLES.items()]
FIRST_EVENTS = [
    (kind.value, EVENT_TITLES[kind])
    for kind in (CaseEventKind.HEARD_OF, CaseEventKind.FILED, CaseEventKind.EXPECTED)
]
LINKS = (
    ("", "choose one"),
    ("consolidated-with", "heard together with the other"),
    ("cross-petition-to", "a cross-petition to the other"),
    ("split-from", "split from the other"),
    ("filed-anew-after", "filed anew after the return of the other"),
    ("appeal-from", "an appeal from the other"),
)
EXTENTS = (
    ("contests", "One or more constituencies, whole"),
    ("stations", "Named polling stations only"),
    ("whole", "The whole election"),
    ("not-known", "Not known yet"),
)


class CaseFilter(forms.Form):
    """What a list of cases is narrowed to."""

    standing = forms.ChoiceField(
        label="Where it stands", required=False, choices=STANDINGS
    )
    text = forms.CharField(
        label="Number, court or parties", required=False, max_length=100
    )
    page = forms.IntegerField(
        required=False, min_value=1, max_value=10_000, widget=forms.HiddenInput
    )


class ExtentForm(forms.Form):
    """What a case or an order covers.

    Args:
        contests: register number and name of each constituency to choose from.
    """

    extent = forms.ChoiceField(
        label="What it covers",
        choices=EXTENTS,
        widget=forms.RadioSelect,
        initial="contests",
        error_messages={"required": "Say what it covers; if in doubt, not known yet."},
    )
    contests = forms.MultipleChoiceField(
        label="Constituencies",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Only for “constituencies, whole”.",
        error_messages={"invalid_choice": "This constituency is not of this election."},
    )
    stations = forms.CharField(
        label="Polling stations",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Only for “named stations”: constituency, stroke, station, such as "
        "11/003, or the station’s register number. Part them with commas or lines.",
    )
    because = forms.CharField(
        label="Reason for narrowing",
        required=False,
        max_length=400,
        help_text="Needed wherever less is held than the whole constituency, or than "
        "is held now.",
    )
    authority = forms.CharField(
        label="Authority for narrowing",
        required=False,
        max_length=200,
        help_text="Who decided it, and in which paper.",
    )

    def __init__(
        self, *args: Any, contests: tuple[tuple[str, str], ...] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["contests"].choices = contests  # type: ignore[attr-defined]

    def clean_stations(self) -> tuple[str, ...]:
        """Part the stations."""
        parts = re.split(r"[\n,;]+", self.cleaned_data["stations"])
        return tuple(part.strip() for part in parts if part.strip())

    def clean(self) -> dict[str, Any]:
        """Refuse an entry beside the one that the choice asks for: which holds?"""
        cleaned = super().clean() or {}
        extent = cleaned.get("extent")
        wanted = {"contests": "contests", "stations": "stations"}.get(extent or "")
        for name in ("contests", "stations"):
            if name == wanted and not cleaned.get(name) and name not in self.errors:
                self.add_error(name, "Name at least one, or choose another extent.")
            if extent and name != wanted and cleaned.get(name):
                self.add_error(
                    name, "Leave this empty, or choose the extent that fits it."
                )
        return cleaned


class EnterCaseForm(ExtentForm):
    """A case, the moment it is heard of."""

    kind = forms.ChoiceField(label="Kind of proceeding", choices=KINDS)
    forum = forms.CharField(
        label="Court",
        max_length=160,
        error_messages={"required": "Name the court before which it is, or will be."},
    )
    court_number = forms.CharField(
        label="The court’s number",
        required=False,
        max_length=80,
        help_text="Leave it empty until it is known.",
    )
    parties = forms.CharField(
        label="Parties",
        max_length=400,
        error_messages={"required": "Name the parties, as far as they are known."},
    )
    first_event = forms.ChoiceField(label="What is known", choices=FIRST_EVENTS)
    level = forms.ChoiceField(label="In which court", choices=LEVELS)
    occurred_on = DayField(
        label="When that happened",
        help_text="The day of filing, or the day on which it was heard of; not the day "
        "of this entry.",
        error_messages={"required": "Give the day on which it happened."},
    )
    paper = forms.CharField(
        label="Paper or source",
        required=False,
        max_length=200,
        help_text="Where this is known from: diary number, notice, cause list.",
    )
    note = forms.CharField(label="Note", required=False, max_length=400)

    field_order = (
        "kind", "forum", "court_number", "parties", "first_event", "level",
        "occurred_on", "paper", "extent", "contests", "stations", "because",
        "authority", "note",
    )  # fmt: skip


class EventForm(forms.Form):
    """What happened in a case."""

    kind = forms.ChoiceField(
        label="What happened",
        choices=EVENTS,
        error_messages={"required": "Choose what happened."},
    )
    level = forms.ChoiceField(
        label="In which court",
        choices=[("", "choose the court"), *LEVELS],
        help_text="The court that decided; for an appeal the court appealed to; for a "
        "case sent back the court to which it goes.",
        error_messages={"required": "Choose the court."},
    )
    occurred_on = DayField(
        label="When it happened",
        help_text="The day in court, not the day of this entry.",
        error_messages={"required": "Give the day on which it happened."},
    )
    paper = forms.CharField(
        label="Order, judgment or notice",
        required=False,
        max_length=200,
        help_text="Its number or date. Needed for every decision of a court.",
    )
    now_before = forms.CharField(
        label="The court that has it from then on",
        required=False,
        max_length=160,
        help_text="Only for a transfer to another court.",
    )
    now_numbered = forms.CharField(
        label="The number it has from then on",
        required=False,
        max_length=80,
        help_text="Only for a transfer, or where it was given another number. It is "
        "found under its old number too.",
    )
    document = ScanField()
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=400,
        help_text="For a case that is no longer expected: the reason. It is needed.",
    )


class LinkForm(forms.Form):
    """How a case hangs together with another.

    Args:
        cases: register number and name of each case to choose from.
    """

    kind = forms.ChoiceField(
        label="This case is",
        choices=LINKS,
        error_messages={"required": "Choose how the two hang together."},
    )
    other = forms.ChoiceField(
        label="The other case",
        error_messages={
            "required": "Choose the other case. If it is not on the list, enter it.",
        },
    )
    occurred_on = DayField(
        label="Since when",
        help_text="The day of the order or of the filing; not the day of this entry.",
        error_messages={"required": "Give the day on which it happened."},
    )
    paper = forms.CharField(label="Order or notice", required=False, max_length=200)

    def __init__(
        self, *args: Any, cases: tuple[tuple[str, str], ...] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["other"].choices = [("", "choose the case"), *cases]  # type: ignore[attr-defined]


class StrikeForm(forms.Form):
    """Why an event counts for nothing."""

    because = forms.CharField(
        label="Why this entry was wrong",
        max_length=400,
        error_messages={"required": "Say why this entry was wrong."},
    )
    authority = forms.CharField(
        label="On whose authority it is struck",
        max_length=200,
        required=False,
        help_text="Needed unless the entry is a decision of the court.",
    )


class CourtNumberForm(forms.Form):
    """The court's number and the parties, once they are known."""

    court_number = forms.CharField(
        label="The court’s number",
        max_length=80,
        error_messages={"required": "Give the number as the court writes it."},
    )
    parties = forms.CharField(
        label="Parties",
        max_length=400,
        error_messages={"required": "Name the parties as the court writes them."},
    )
