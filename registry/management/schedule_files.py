"""Reading a schedule's file for a command."""

from pathlib import Path

from registry.management.base import WrongUsage


def text_of(path: Path) -> str:
    """Return a file's text; raises WrongUsage where it cannot be read as UTF-8."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise WrongUsage(
            f"{path} is not written in UTF-8; save it as UTF-8 and try again."
        ) from error
    except OSError as error:
        raise WrongUsage(f"{path}: {error.strerror}.") from error
