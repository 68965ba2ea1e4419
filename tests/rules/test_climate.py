"""Limits of climate and the days from which images are at risk.

Published: National Archives of Australia, "Managing records on thermal papers":
not exceeding 20 °C or 50 per cent relative humidity; significant fading in as little
as five years (both read in a stored copy of naa.gov.au). From memory: BS 4971:2017,
13 to 23 °C and 35 to 60 %. The warning at 36 months, the year less, and two readings
in a row: common practice, no published source.
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from registry.rules.climate import Reading, faults_of, limits_for, stays_out
from registry.rules.images import image_risk
from registry.rules.keeping_parts import ClimateLimits, PaperLife

AT = datetime(2026, 11, 2, 10, tzinfo=UTC)
POLLED = date(2024, 2, 29)


def reading(celsius: str, humidity: str, hours: int = 0) -> Reading:
    return Reading(AT + timedelta(hours=hours), Decimal(celsius), Decimal(humidity))


def ends(limits: ClimateLimits) -> tuple[int, int, int, int]:
    return (
        limits.lowest_c,
        limits.highest_c,
        limits.lowest_humidity,
        limits.highest_humidity,
    )


def test_a_room_with_thermal_prints_stays_cooler_and_drier() -> None:
    assert ends(limits_for([], holds_thermal=True)) == (13, 20, 35, 50)
    assert ends(limits_for([], holds_thermal=False)) == (13, 23, 35, 60)


def test_the_schedule_counts_before_the_house_and_the_narrowest_of_several() -> None:
    own = [ClimateLimits(10, 18, 30, 45, "a"), ClimateLimits(12, 22, 25, 40, "b")]
    limits = limits_for(own, holds_thermal=True)
    assert ends(limits) == (12, 18, 30, 40)
    assert limits.source == "a; b"


@pytest.mark.parametrize(
    ("celsius", "humidity", "faults"),
    [
        ("20.0", "50.0", 0),
        ("13.0", "35.0", 0),
        ("20.1", "50.0", 1),
        ("12.9", "50.1", 2),
        ("18.0", "34.9", 1),
    ],
)
def test_a_limit_itself_is_within(celsius: str, humidity: str, faults: int) -> None:
    limits = limits_for([], holds_thermal=True)
    assert len(faults_of(reading(celsius, humidity), limits)) == faults


def test_two_readings_in_a_row_are_the_room_and_one_is_not() -> None:
    limits = limits_for([], holds_thermal=True)
    warm, fine = ("24", "45"), ("18", "45")
    assert not stays_out([reading(*warm)], limits)
    assert not stays_out([reading(*warm, 0), reading(*fine, 1)], limits)
    assert not stays_out(
        [reading(*warm, 0), reading(*fine, 1), reading(*warm, 2)], limits
    )
    assert stays_out([reading(*warm, 2), reading(*fine, 0), reading(*warm, 1)], limits)


def test_a_thermal_image_is_at_risk_five_years_after_the_poll() -> None:
    risk = image_risk("thermal", POLLED)
    assert risk
    # 29 February: five years on, the month's last day.
    assert (risk.warn_on, risk.at_risk_on) == (date(2027, 2, 28), date(2029, 2, 28))
    assert [risk.stands(day) for day in (date(2027, 2, 27), date(2027, 2, 28),
            date(2029, 2, 28))] == ["sound", "warned", "at-risk"]  # fmt: skip


def test_paper_that_nobody_knows_counts_as_thermal_and_says_so() -> None:
    known, unknown = image_risk("thermal", POLLED), image_risk("", POLLED)
    assert known
    assert unknown
    assert unknown.at_risk_on == known.at_risk_on
    assert (known.assumed, unknown.assumed) == (False, True)


def test_plain_paper_lasts_unless_the_schedule_says_otherwise() -> None:
    assert image_risk("plain", POLLED) is None
    life = PaperLife("plain", 120, 240, "rule 9")
    risk = image_risk("plain", POLLED, [life])
    assert risk
    assert risk.at_risk_on == date(2044, 2, 29)


def test_a_climate_out_of_limits_takes_a_year() -> None:
    risk = image_risk("thermal", POLLED, out_of_limits=True)
    assert risk
    assert risk.at_risk_on == date(2028, 2, 29)
    assert risk.shortened
