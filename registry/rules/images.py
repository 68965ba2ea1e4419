"""From which day a printed image is at risk of fading away.

"Modern [thermal papers] can be expected to display significant fading in as little as
five years" even when kept well (National Archives of Australia, "Managing records on
thermal papers", read in a stored copy of naa.gov.au). So the house counts a thermal
print as at risk 60 months after the poll and warns at 36. A year less where the climate
of the room was out of limits, and paper that nobody knows counted as thermal: common
practice, no published source. A schedule may say other months for each paper.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from registry.rules.keeping_parts import PaperLife

THERMAL, PLAIN, UNKNOWN = "thermal", "plain", ""
HOUSE_THERMAL = PaperLife(
    paper=THERMAL,
    warn_after_months=36,
    at_risk_after_months=60,
    source="National Archives of Australia: fading in as little as five years; the "
    "warning two years before is the rule of the house",
)
LESS_WHERE_OUT_OF_LIMITS = 12  # months


@dataclass(frozen=True)
class ImageRisk:
    """When images on a paper are at risk.

    Attributes:
        warn_on: from when the legal cell is told while a case is pending.
        at_risk_on: from when images may be fading.
        assumed: nobody knows the paper, and it is counted as thermal.
        shortened: the climate of the room was out of limits.
    """

    warn_on: date
    at_risk_on: date
    assumed: bool
    shortened: bool
    source: str

    def stands(self, on: date) -> str:
        """Return ``at-risk``, ``warned`` or ``sound`` as of a day."""
        if on >= self.at_risk_on:
            return "at-risk"
        return "warned" if on >= self.warn_on else "sound"


def image_risk(
    paper: str,
    polled_on: date,
    papers: Sequence[PaperLife] = (),
    *,
    out_of_limits: bool = False,
) -> ImageRisk | None:
    """Return when images on this paper are at risk; None where they last.

    Args:
        paper: ``thermal``, ``plain`` or empty for unknown.
        polled_on: the day on which they were printed.
        papers: what the schedule says of papers.
        out_of_limits: the climate of the room was out of limits since.
    """
    said = {each.paper: each for each in papers}
    life = said.get(paper or THERMAL)
    if life is None:
        if paper == PLAIN:
            return None
        life = HOUSE_THERMAL
    less = LESS_WHERE_OUT_OF_LIMITS if out_of_limits else 0
    warn, risk = (
        polled_on + relativedelta(months=max(months - less, 0))
        for months in (life.warn_after_months, life.at_risk_after_months)
    )
    return ImageRisk(warn, risk, paper == UNKNOWN, out_of_limits, life.source)
