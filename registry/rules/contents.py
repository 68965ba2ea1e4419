"""What containers hold."""

from enum import StrEnum


class ContentKind(StrEnum):
    """What a container holds."""

    POLL_SLIPS = "poll-slips"
    MOCK_POLL_SLIPS = "mock-poll-slips"
    STATUTORY_PACKET = "statutory-packet"
