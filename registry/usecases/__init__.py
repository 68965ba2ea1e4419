"""The acts of the registry: the only code that writes, and the only door to reads."""

from registry.usecases._door import Mistaken, NotThere, Refused

__all__ = ["Mistaken", "NotThere", "Refused"]
