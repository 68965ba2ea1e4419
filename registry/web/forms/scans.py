"""Scans of papers, handed in with what is entered."""

from typing import Any

from django import forms

from registry.usecases.documents import Upload


class ScanField(forms.FileField):
    """A scan that may be handed in; what is in it is checked by its content."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Scan of the paper")
        kwargs.setdefault("required", False)
        kwargs.setdefault(
            "help_text",
            "PDF, PNG, JPEG or TIFF. If the page comes back with something to mend, "
            "choose the file again.",
        )
        super().__init__(**kwargs)


def with_scan(entered: dict[str, Any], title: str) -> dict[str, Any]:
    """Return what was entered, with its scan (if any) as the use cases take it."""
    file = entered.get("document")
    scan = Upload(title=title, content=file.read()) if file else None
    return {**entered, "document": scan}
