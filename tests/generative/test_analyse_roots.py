"""Roots rounded without floating point, against the decimal library (General Decimal Arithmetic) at 80 digits."""

from decimal import ROUND_HALF_UP, Context, Decimal, localcontext

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gateway.model import reported_root


@settings(deadline=None, max_examples=400)
@given(st.integers(0, 10**15), st.integers(1, 10**9), st.integers(0, 4))
def test_against_decimal_square_root(numerator: int, denominator: int, places: int) -> None:
    with localcontext(Context(prec=80)):
        root = (Decimal(numerator) / Decimal(denominator)).sqrt()
        expected = root.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    assert reported_root(numerator, denominator, places) == expected


@pytest.mark.parametrize(
    ("numerator", "denominator", "text"),
    [(9, 4, "1.5"), (5625, 10_000, "0.8"), (5624, 10_000, "0.7"), (0, 7, "0.0"), (150, 1, "12.2")],
)
def test_halves_go_up(numerator: int, denominator: int, text: str) -> None:
    # 0.75 is exactly half way between 0.7 and 0.8
    assert str(reported_root(numerator, denominator)) == text


def test_impossible_roots() -> None:
    with pytest.raises(ZeroDivisionError):
        reported_root(1, 0)
    with pytest.raises(ValueError, match="nonnegative"):
        reported_root(-1, 1)
