"""Classes of the fall of pressure from awake to asleep, as data with their source.

Kario 2001 (Hypertension, doi 10.1161/hy1001.092640) states them in per cent, Fagard 2009 as asleep/awake ratios
(0.8, 0.9, 1.0) with the same boundaries. Lower limits are included. Other papers place 20 and 10 per cent on the
other side; these two agree and are the ones that are cited most.
"""

from decimal import Decimal

from pydantic import Field

from gateway.mapping.guideline import Cited, Standing

_KARIO = "Kario 2001, doi 10.1161/hy1001.092640; Fagard 2009 gives the same boundaries as ratios"


class DipClass(Cited):
    """One class. It holds from `least` per cent (inclusive) up to the class above; None: all that is lower."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    words: str
    least: Decimal | None = None


DIPPING: tuple[DipClass, ...] = (
    DipClass(
        id="extreme-dipper",
        words="extreme dipper",
        least=Decimal(20),
        citation=_KARIO,
        standing=Standing.VERIFIED,
    ),
    DipClass(id="dipper", words="dipper", least=Decimal(10), citation=_KARIO, standing=Standing.VERIFIED),
    DipClass(id="non-dipper", words="non-dipper", least=Decimal(0), citation=_KARIO, standing=Standing.VERIFIED),
    DipClass(id="reverse-dipper", words="reverse dipper", citation=_KARIO, standing=Standing.VERIFIED),
)
"""Highest class first."""
