"""The share of valid readings, where nobody knows at which hours the night interval held."""

from datetime import datetime

import pytest

from gateway.model import Diary, PeriodName, Schedule
from tests.builders import a_reading, a_recording, readings_over
from tests.unit.validate.ruling import count, examined

WHOLE, AWAKE, ASLEEP = PeriodName.WHOLE, PeriodName.AWAKE, PeriodName.ASLEEP
EVERY_20_AND_60 = Schedule(interval_day=20, interval_night=60)


def at_one(moment: datetime) -> int:
    """A monitor whose night interval holds from 01:00 to 06:00 only, shorter than the night of fixed windows."""
    return 60 if 1 <= moment.hour < 6 else 20


def failing_at_seven(at: datetime) -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if at.hour == 7 else (130, 80, 70)


def test_more_readings_than_fixed_windows_expect_are_no_more_than_all() -> None:
    """19 hours of three and 5 of one are 62; a night of ten hours would ask for 52, and 62 of 52 is no share."""
    result = examined(a_recording(readings_over(every=at_one), schedule=EVERY_20_AND_60, diary=Diary()), "nice-ng136")
    whole = count(result, WHOLE)
    assert (whole.scheduled, whole.valid, whole.percent) == (62, 62, 100)
    assert all(one.percent is None or one.percent <= 100 for one in result.adequacy.counts)  # type: ignore[union-attr]


def test_what_the_monitor_tried_was_due_where_its_hours_are_a_guess() -> None:
    """Three failures among 62: 59 of 62, not 59 of 52."""
    readings = readings_over(every=at_one, profile=failing_at_seven)
    result = examined(a_recording(readings, schedule=EVERY_20_AND_60, diary=Diary()), "nice-ng136")
    whole = count(result, WHOLE)
    assert (whole.scheduled, whole.valid, whole.failed) == (62, 59, 3)


def test_a_given_programme_is_not_made_longer_by_failures() -> None:
    """The diary says when the night was: 40 were due, and a failure in between was none of them."""
    extra = a_reading(readings_over()[3].at.replace(minute=45), None, None, row=99)
    whole = count(examined(a_recording([*readings_over(), extra])), WHOLE)
    assert (whole.scheduled, whole.valid, whole.failed) == (40, 40, 1)


@pytest.mark.parametrize("name", ["esc-2024", "nice-ng136", "hypertension-canada-2020"])
@pytest.mark.parametrize("diary", [True, False])
def test_no_share_passes_the_whole(name: str, diary: bool) -> None:
    changes = {} if diary else {"diary": Diary()}
    result = examined(a_recording(readings_over(every=at_one), schedule=EVERY_20_AND_60, **changes), name)
    assert result.adequacy is not None
    for one in result.adequacy.counts:
        assert one.scheduled is not None
        assert one.valid <= one.scheduled
