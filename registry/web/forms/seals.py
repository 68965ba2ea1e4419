"""The fields in which the seals of a container are entered."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.rules.arrivals import SealEntry, SealKind

KINDS = (
    ("", "as usual: wax on an envelope, numbered paper on a box"),
    (SealKind.WAX.value, "wax"),
    (SealKind.PAPER.value, "numbered paper seal"),
    (SealKind.STRAP.value, "numbered strap or cable seal"),
)
AS_THE_FIRST = ("", "as seal 1")
SIGNED = (("", "not looked at"), ("yes", "signed"), ("no", "not signed"))


def add_seal_fields(form: forms.Form, count: int, *, scanned: int) -> None:
    """Give a form the fields of so many seals; no number and no tick is no seal.

    Args:
        scanned: for how many of them Enter stops at the number.
    """
    for index in range(1, count + 1):
        which = f"Seal {index}" if count > 1 else "Seal"
        scan = {"data-scan": True} if index <= scanned else {}
        form.fields[f"seal_number_{index}"] = forms.CharField(
            label=f"{which}: number on it",
            required=False,
            max_length=60,
            widget=forms.TextInput(attrs={"autocomplete": "off", **scan}),
        )
        form.fields[f"seal_kind_{index}"] = forms.ChoiceField(
            label=f"{which}: kind",
            required=False,
            choices=KINDS if index == 1 else (AS_THE_FIRST, *KINDS[1:]),
        )
        form.fields[f"seal_maker_{index}"] = forms.CharField(
            label=f"{which}: maker, or the office that owns the die",
            required=False,
            max_length=80,
        )
        form.fields[f"seal_signed_{index}"] = forms.ChoiceField(
            label=f"{which}: signatures",
            required=False,
            choices=SIGNED if index == 1 else (AS_THE_FIRST, *SIGNED[1:]),
        )
        form.fields[f"seal_plain_{index}"] = forms.BooleanField(
            label=f"{which}: is there, but bears no number that can be read",
            required=False,
        )
        form.fields[f"seal_broken_{index}"] = forms.BooleanField(
            label=f"{which}: is broken or open", required=False
        )


def said_of_seals(form: forms.Form, which: Iterable[int]) -> list[forms.BoundField]:
    """Return the fields about these seals that the scanner does not fill."""
    wanted = {f"_{index}" for index in which}
    return [
        field
        for field in form
        if field.name.startswith("seal_")
        and field.name[-2:] in wanted
        and "data-scan" not in field.field.widget.attrs
    ]


def seal_entries(
    cleaned: dict[str, Any], count: int, usual: SealKind
) -> tuple[SealEntry, ...]:
    """Return the seals that were entered.

    What is left open of a further seal is as it is said of the first: a roll of paper
    seals has one maker.

    Args:
        usual: what a seal is made of where a number stands alone.
    """
    entries = []
    for index in range(1, count + 1):
        kind = _said(cleaned, "kind", index)
        serial = cleaned.get(f"seal_number_{index}", "")
        broken = bool(cleaned.get(f"seal_broken_{index}"))
        plain = bool(cleaned.get(f"seal_plain_{index}"))
        # The kind alone is no seal: it is carried over from the container before.
        if not serial and not plain and not broken:
            continue
        entries.append(
            SealEntry(
                kind=SealKind(kind) if kind else usual,
                maker=_said(cleaned, "maker", index),
                serial=serial,
                signed={"yes": True, "no": False}.get(_said(cleaned, "signed", index)),
                broken=broken,
            )
        )
    return tuple(entries)


def _said(cleaned: dict[str, Any], what: str, index: int) -> str:
    own = cleaned.get(f"seal_{what}_{index}", "")
    return str(own or cleaned.get(f"seal_{what}_1", ""))
