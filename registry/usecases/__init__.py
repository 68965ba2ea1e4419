"""The acts of the registry: the only code that writes, and the only door to reads."""

from registry.queries.find import NotThere
from registry.usecases._door import Mistaken, Refused

__all__ = ["Mistaken", "NotThere", "Refused"]
