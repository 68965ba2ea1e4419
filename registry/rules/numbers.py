"""Register numbers: ours, with a check character; and foreign serials, as printed.

Our own numbers end in an ISO/IEC 7064 MOD 37-2 check character, so that a
mistyped number is refused instead of being taken for another box. MOD 37-2 finds
every single wrong character and every swap of neighbours; it may also ask for the
character ``*``, which no keyboard wedge types reliably, so such numbers are never
issued. A foreign serial (unit, seal) never gets a check character of ours.
"""

import re
from collections.abc import Iterator

from stdnum.exceptions import ValidationError as StdnumError
from stdnum.iso7064 import mod_37_2

KINDS = {
    "EL": "election",
    "CT": "contest",
    "ST": "polling station",
    "US": "unit set",
    "EN": "envelope",
    "BX": "box",
    "SL": "seal",
    "RM": "strong room",
    "BY": "bay",
    "SH": "shelf",
    "MV": "movement",
    "CA": "case",
    "PO": "preservation order",
    "PM": "permission",
    "OP": "opening",
    "DS": "disposal",
    "CF": "certificate",
    "DC": "discrepancy",
    "RS": "retention schedule",
    "CC": "court calendar",
    "IN": "intake",
    "NP": "no-petition confirmation",
    "DO": "document",
    "PE": "person",
    "SS": "sealing of a station",
    "LK": "lock",
    "KY": "key",
    "KH": "key holding",
    "DR": "door opening",
    "PF": "paper form",
    "MI": "issue of material",
    "ME": "end of material",
    "PD": "production",
    "TF": "transfer",
    "IR": "inspection round",
    "CR": "climate reading",
    "SK": "stock-take",
    "HC": "hand-over of charge",
    "IC": "incident",
}

_SHAPE = re.compile(r"([A-Z]{2})(\d{6,9})([0-9A-Z])")
_SEPARATORS = re.compile(r"[\s\-‐-―./_]+")


class NumberMistyped(ValueError):
    """The text cannot be a register number of ours; the message says why."""


def compose(prefix: str, serial: int) -> str | None:
    """Return the register number of this kind and serial.

    Args:
        prefix: two letters out of ``KINDS``.
        serial: the running number, from 1.

    Returns:
        ``BX-000123-K``, or None where the check character would be ``*``.
    """
    body = f"{prefix}{serial:06d}"
    check = mod_37_2.calc_check_digit(body)
    return None if check == "*" else f"{prefix}-{serial:06d}-{check}"


def numbers_after(prefix: str, serial: int) -> Iterator[tuple[int, str]]:
    """Yield each issuable (serial, number) after the given serial, for ever."""
    while True:
        serial += 1
        number = compose(prefix, serial)
        if number:
            yield serial, number


def looks_like_number(text: str) -> bool:
    """Tell whether the text has the shape of one of our numbers, right or wrong."""
    found = _SHAPE.fullmatch(_compact(text))
    return bool(found and found[1] in KINDS)


def read(text: str) -> str:
    """Return the register number that was typed or scanned, in its written form.

    Spaces, hyphens and small letters are forgiven; a wrong character is not.

    Args:
        text: what the person or the scanner typed.

    Raises:
        NumberMistyped: wrong shape, unknown kind, or the check character differs.
    """
    compact = _compact(text)
    shape = _SHAPE.fullmatch(compact)
    if not shape or shape[1] not in KINDS:
        raise NumberMistyped(
            f"“{text.strip()}” is not a register number. One looks like BX-000123-K: "
            "two letters, six digits and a check character."
        )
    try:
        mod_37_2.validate(compact)
    except StdnumError:
        raise NumberMistyped(
            f"“{text.strip()}” was mistyped or misread: its check character does not "
            "fit. Scan it again, or compare it with the label character by character."
        ) from None
    return f"{shape[1]}-{shape[2]}-{shape[3]}"


def kind_of(number: str) -> str:
    """Return the prefix of a register number in its written form."""
    return number[:2]


def _compact(text: str) -> str:
    return _SEPARATORS.sub("", text.strip().upper())


def plain_serial(text: str) -> str:
    """Return a foreign serial in the form in which two writings are compared.

    Upper case, without spaces, hyphens, dots, slashes. Leading zeros stay: they are
    part of a serial. (Common practice, no published source.)
    """
    return _compact(text)
