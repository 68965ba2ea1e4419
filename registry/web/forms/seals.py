"""The fields in which the seals of a container are entered."""

from typing import Any

from django import forms

from registry.rules.arrivals import SealEntry, SealKind

KINDS = (
    ("", "as usual: wax on an envelope, numbered paper on a box"),
    (SealKind.WAX.value, "wax, with a number or without"),
    (SealKind.PAPER.value, "numbered paper seal"),
    (SealKind.STRAP.value, "numbered strap or cable seal"),
)
SIGNED = (("", "not looked at"), ("yes", "signed"), ("no", "not signed"))


def add_seal_fields(form: forms.Form, count: int, *, scanned: int) -> None:
    """Give a form the fields of so many seals; an empty number and kind is no seal.

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
            choices=KINDS,
        )
        form.fields[f"seal_maker_{index}"] = forms.CharField(
            label=f"{which}: maker, or the office that owns the die",
            required=False,
            max_length=80,
        )
        form.fields[f"seal_signed_{index}"] = forms.ChoiceField(
            label=f"{which}: signatures", required=False, choices=SIGNED
        )
        form.fields[f"seal_broken_{index}"] = forms.BooleanField(
            label=f"{which}: is broken or open", required=False
        )


def seal_entries(
    cleaned: dict[str, Any], count: int, usual: SealKind
) -> tuple[SealEntry, ...]:
    """Return the seals that were entered.

    Args:
        usual: what a seal is made of where a number stands alone.
    """
    entries = []
    for index in range(1, count + 1):
        kind = cleaned.get(f"seal_kind_{index}", "")
        serial = cleaned.get(f"seal_number_{index}", "")
        broken = bool(cleaned.get(f"seal_broken_{index}"))
        if not kind and not serial and not broken:
            continue
        entries.append(
            SealEntry(
                kind=SealKind(kind) if kind else usual,
                maker=cleaned.get(f"seal_maker_{index}", ""),
                serial=serial,
                signed={"yes": True, "no": False}.get(
                    cleaned.get(f"seal_signed_{index}", "")
                ),
                broken=broken,
            )
        )
    return tuple(entries)
