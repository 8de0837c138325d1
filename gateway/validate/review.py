"""The site's local review rule, over every measured reading and before anything else is decided."""

from decimal import Decimal

from gateway.mapping.rules import ReviewRule
from gateway.model import Outcome, Reading, Recording, Review, Tenths
from gateway.model.phrase import Phrase


def review_of(recording: Recording, rule: ReviewRule | None) -> Review:
    """Which readings meet the rule. Looks at every measured reading: also those taken while fitting or by hand, and
    those that a later rule keeps out.
    """
    if rule is None:
        return Review()
    measured = [reading for reading in recording.readings if reading.outcome is Outcome.MEASURED]
    met = sorted((r for r in measured if _above(r, rule) or _below(r, rule)), key=lambda r: r.at.timestamp())
    if len(met) < max(rule.readings, 1):
        return Review(rule=rule.name)
    return Review(rule=rule.name, rows=tuple(r.row for r in met), sentence=_sentence(met, rule))


def _sentence(met: list[Reading], rule: ReviewRule) -> Phrase:
    above, below = any(_above(r, rule) for r in met), any(_below(r, rule) for r in met)
    count = Phrase("1 reading") if len(met) == 1 else Phrase("{count} readings", count=len(met))
    text = "Values above your local review limit ({rule}): {count}."
    if below:
        text = "Values below your local review limit ({rule}): {count}."
    if above and below:
        text = "Values outside your local review limit ({rule}): {count}."
    return Phrase(text, rule=rule.name, count=count)


def _above(reading: Reading, rule: ReviewRule) -> bool:
    return _reaches(reading.systolic, rule.systolic_at_or_above) or _reaches(
        reading.diastolic, rule.diastolic_at_or_above
    )


def _below(reading: Reading, rule: ReviewRule) -> bool:
    return _under(reading.systolic, rule.systolic_below) or _under(reading.diastolic, rule.diastolic_below)


def _reaches(value: Tenths | None, limit: Decimal | None) -> bool:
    return value is not None and limit is not None and value >= 10 * limit


def _under(value: Tenths | None, limit: Decimal | None) -> bool:
    return value is not None and limit is not None and value < 10 * limit
