"""Stored facts of one recording (the JSON of `preview --json`) -> what a comparison needs.

Facts of an older version may lack parts; what is not there is not compared.
"""

import json
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from gateway.mapping.studies import NEEDS
from gateway.model import PeriodName, StatisticName, Subject, Use, Verdict, WindowOrigin
from gateway.model.comparison import Dip, MeanPair, Snapshot
from gateway.validate.adequacy import FILED

_HOUR = timedelta(hours=1)
_ARITHMETIC = (StatisticName.SYSTOLIC_MEAN, StatisticName.DIASTOLIC_MEAN)
_HOURLY = (StatisticName.SYSTOLIC_MEAN_HOURLY, StatisticName.DIASTOLIC_MEAN_HOURLY)


def snapshot(facts: bytes) -> Snapshot | None:
    """The first day of a recording from its stored facts; None where there is no result in them that this version
    can read, because a comparison is never a reason to hold a new recording.
    """
    try:
        told = json.loads(facts, parse_float=Decimal, parse_int=Decimal)
        return _snapshot(told["recording"], told["summary"]) if told["summary"] else None
    except (KeyError, IndexError, TypeError, ValueError):
        return None


def _snapshot(recording: Mapping[str, Any], summary: Mapping[str, Any]) -> Snapshot:
    values = {
        (one["name"], one["period"]): one["value"]
        for one in summary["statistics"]
        if one["day"] == 1 and one["value"] is not None
    }
    enough = set(_enough(recording, summary))
    means = ((period, _pair(values, _ARITHMETIC, period)) for period in PeriodName if period in enough)
    whole = PeriodName.WHOLE
    return Snapshot(
        on=datetime.fromisoformat(recording["began"]).date(),
        adequate=summary["adequacy"]["verdict"] == Verdict.ADEQUATE,
        origin=next((WindowOrigin(one["origin"]) for one in summary["periods"]), None),
        means={period: pair for period, pair in means if pair},
        hourly=_pair(values, _HOURLY, whole) if whole in enough else None,
        dip=_dip(values, summary),
    )


def _pair(
    values: Mapping[tuple[str, str | None], Decimal], names: tuple[StatisticName, StatisticName], period: PeriodName
) -> MeanPair | None:
    systolic, diastolic = (values.get((name, period)) for name in names)
    return None if systolic is None or diastolic is None else MeanPair(systolic, diastolic)


def _enough(recording: Mapping[str, Any], summary: Mapping[str, Any]) -> Iterator[PeriodName]:
    """Periods whose mean may stand for the person: as many readings as a filed mean needs, and for 24 hours as many
    hours."""
    for one in summary["periods"]:
        period = PeriodName(one["period"])
        if one["day"] != 1 or one["valid"] < FILED[period]:
            continue
        if period is not PeriodName.WHOLE or _hours(recording, one["intervals"][0]) >= NEEDS.day_hours:
            yield period


def _hours(recording: Mapping[str, Any], span: tuple[str, str]) -> int:
    """Hours of the day that hold a valid reading, counted from its start in real time."""
    start, end = (datetime.fromisoformat(edge) for edge in span)
    valid = (datetime.fromisoformat(one["at"]) for one in recording["readings"] if one["use"] == Use.VALID)
    return len({(at - start) // _HOUR for at in valid if start <= at < end})


def _dip(values: Mapping[tuple[str, str | None], Decimal], summary: Mapping[str, Any]) -> Dip | None:
    percent = values.get((StatisticName.SYSTOLIC_DIP, None))
    classes = [
        one["result"]
        for one in summary["interpretations"]
        if one["subject"] == Subject.SYSTOLIC_DIP and one["day"] == 1
    ]
    return Dip(percent, classes[0]) if percent is not None and classes else None
