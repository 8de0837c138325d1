"""Dip classes of Kario 2001 (doi 10.1161/hy1001.092640), the same as ratios in Fagard 2009 (0.8, 0.9, 1.0)."""

from decimal import Decimal
from fractions import Fraction

import pytest

from gateway.analyse.dip import dip, range_of
from gateway.mapping.dipping import DIPPING

# Boundaries where 1 − asleep/awake in floating point falls on the wrong side stand among the others.
BOUNDARIES = [
    (150, 120, "20.0", "extreme-dipper"),
    (150, 121, "19.3", "dipper"),
    (120, 108, "10.0", "dipper"),
    (130, 117, "10.0", "dipper"),
    (120, 109, "9.2", "non-dipper"),
    (140, 126, "10.0", "dipper"),
    (110, 99, "10.0", "dipper"),
    (120, 120, "0.0", "non-dipper"),
    (120, 121, "-0.8", "reverse-dipper"),
    (135, 108, "20.0", "extreme-dipper"),
    (125, 100, "20.0", "extreme-dipper"),
    (100, 80, "20.0", "extreme-dipper"),
    (100, 90, "10.0", "dipper"),
    (140, 112, "20.0", "extreme-dipper"),
    (160, 144, "10.0", "dipper"),
]


@pytest.mark.parametrize(("awake", "asleep", "percent", "named"), BOUNDARIES)
def test_classes_at_their_boundaries(awake: int, asleep: int, percent: str, named: str) -> None:
    found = dip(Decimal(awake), Decimal(asleep))
    assert (str(found.percent), found.dip_class.id) == (percent, named)


def test_floating_point_would_misplace_some_of_them() -> None:
    # the reason for whole-number arithmetic: eleven of the pairs above
    wrong = [
        (awake, asleep)
        for awake, asleep, _, named in BOUNDARIES
        if {"extreme-dipper": 0.2, "dipper": 0.1}.get(named, -9) > 1 - asleep / awake
    ]
    assert len(wrong) == 11


# Gosse 2006, table II (PMC8109621), printed group means; the per cent follows by division.
PRINTED_MEANS = [
    ((153, 130), "15.0", "dipper"),
    ((99, 80), "19.2", "dipper"),
    ((156, 128), "17.9", "dipper"),
    ((99, 77), "22.2", "extreme-dipper"),
    ((152, 147), "3.3", "non-dipper"),
    ((94, 90), "4.3", "non-dipper"),
]


@pytest.mark.parametrize(("means", "percent", "named"), PRINTED_MEANS)
def test_printed_group_means(means: tuple[int, int], percent: str, named: str) -> None:
    found = dip(Decimal(means[0]), Decimal(means[1]))
    assert (str(found.percent), found.dip_class.id) == (percent, named)


@pytest.mark.parametrize(
    ("awake", "asleep", "percent", "named"),
    [
        # one decimal would read 10.0, 20.0 or 0.0 and so cross into the next class
        ("133.5", "120.2", "9.96", "non-dipper"),
        ("133.2", "106.6", "19.97", "dipper"),
        ("150.0", "150.1", "-0.1", "reverse-dipper"),
        ("260.0", "260.1", "-0.04", "reverse-dipper"),
        # two decimals would still read 10.00
        ("250.1", "225.1", "9.996", "non-dipper"),
    ],
)
def test_more_decimals_where_one_would_seem_to_cross(awake: str, asleep: str, percent: str, named: str) -> None:
    found = dip(Decimal(awake), Decimal(asleep))
    assert (str(found.percent), found.dip_class.id) == (percent, named)


def test_every_pair_of_reported_means_prints_on_its_own_side() -> None:
    least = {found.id: found.least for found in DIPPING}
    for by_day in range(800, 2001, 7):
        for by_night in range(500, 2101, 3):
            found = dip(Decimal(by_day) / 10, Decimal(by_night) / 10)
            exact = Fraction(100 * (by_day - by_night), by_day)
            named = next(name for name, low in least.items() if low is None or exact >= Fraction(low))
            printed = next(name for name, low in least.items() if low is None or found.percent >= low)
            assert found.dip_class.id == named == printed


def test_classes_in_words() -> None:
    assert [range_of(found) for found in DIPPING] == [
        "20 % or more",
        "10 % or more and below 20 %",
        "0 % or more and below 10 %",
        "below 0 %",
    ]
