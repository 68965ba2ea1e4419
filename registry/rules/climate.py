"""Within which limits a strong room stays, and what a row of readings says.

Where the schedule sets limits of its own, these count. Else:

- a room that holds thermal prints, or slips of which nobody knows the paper: not above
  20 °C and 50 % relative humidity. National Archives of Australia, "Managing records
  on thermal papers": "not exceeding 20 °C or 50 per cent relative humidity" (read in
  a stored copy of naa.gov.au).
- any other room: 13 to 23 °C and 35 to 60 % relative humidity, the general range for
  archives that BS 4971:2017 gives beside EN 16893:2018 (from memory; not looked up).

The lower limits of the first come from the second. ISO 11799:2003 asks for instruments
that record, and for a climate as stable as is practicable (read in a stored copy, 6.7).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from registry.rules.keeping_parts import ClimateLimits

HOUSE_CLIMATE = ClimateLimits(
    lowest_c=13,
    highest_c=23,
    lowest_humidity=35,
    highest_humidity=60,
    source="general range for archives, BS 4971:2017 with EN 16893:2018 (from memory)",
)
THERMAL_CLIMATE = ClimateLimits(
    lowest_c=13,
    highest_c=20,
    lowest_humidity=35,
    highest_humidity=50,
    source="upper limits: National Archives of Australia, thermal papers, 20 °C and "
    "50 % (published); lower limits: BS 4971:2017 (from memory)",
)

# One reading may be a door held open; two in a row are the room. (Our judgement:
# common practice, no published source.)
IN_A_ROW = 2


@dataclass(frozen=True)
class Reading:
    """Temperature in °C and relative humidity in per cent at a moment."""

    taken_at: datetime
    celsius: Decimal
    humidity: Decimal


def limits_for(own: Sequence[ClimateLimits], *, holds_thermal: bool) -> ClimateLimits:
    """Return the limits of a room.

    Args:
        own: those of the schedules of what stands in it; of several the narrowest
            counts at each end.
        holds_thermal: slips on thermal or unknown paper stand in it.
    """
    if not own:
        return THERMAL_CLIMATE if holds_thermal else HOUSE_CLIMATE
    return ClimateLimits(
        lowest_c=max(each.lowest_c for each in own),
        highest_c=min(each.highest_c for each in own),
        lowest_humidity=max(each.lowest_humidity for each in own),
        highest_humidity=min(each.highest_humidity for each in own),
        source="; ".join(dict.fromkeys(each.source for each in own)),
    )


def faults_of(reading: Reading, limits: ClimateLimits) -> tuple[str, ...]:
    """Say in which ways a reading is out of limits; a limit itself is within."""
    faults = []
    if reading.celsius > limits.highest_c:
        faults.append(f"{reading.celsius} °C is above {limits.highest_c} °C")
    if reading.celsius < limits.lowest_c:
        faults.append(f"{reading.celsius} °C is below {limits.lowest_c} °C")
    if reading.humidity > limits.highest_humidity:
        faults.append(f"{reading.humidity} % is above {limits.highest_humidity} %")
    if reading.humidity < limits.lowest_humidity:
        faults.append(f"{reading.humidity} % is below {limits.lowest_humidity} %")
    return tuple(faults)


def stays_out(readings: Sequence[Reading], limits: ClimateLimits) -> bool:
    """Tell whether the last readings, taken one after the other, are all out."""
    last = sorted(readings, key=lambda each: each.taken_at)[-IN_A_ROW:]
    return len(last) == IN_A_ROW and all(faults_of(each, limits) for each in last)
