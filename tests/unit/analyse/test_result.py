"""What a summary says, and above all when it says nothing."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from gateway.analyse import summarise
from gateway.mapping.guideline import Standing
from gateway.model import (
    Circumstances,
    Diary,
    Finding,
    Interval,
    PeriodName,
    Review,
    Severity,
    Statistic,
    StatisticName,
    Subject,
    Summary,
    Verdict,
    WindowOrigin,
)
from gateway.model.phrase import Phrase
from tests.builders import LONDON, START, a_person, a_reading, a_recording, readings_over
from tests.unit.analyse.examined import a_guideline, examined_of, rules_with, three

AWAKE, ASLEEP, WHOLE = PeriodName.AWAKE, PeriodName.ASLEEP, PeriodName.WHOLE


def summed(adequacy: dict[str, Any] | None = None, rules: Any = None, **changes: Any) -> Summary:
    recording = a_recording(**changes)
    return summarise(recording, examined_of(recording, adequacy=adequacy), rules or rules_with())


def stated(summary: Summary, name: StatisticName, period: PeriodName | None = None) -> Statistic:
    found = summary.statistic(name, period)
    assert found is not None
    return found


def facts(**facts: Any) -> Circumstances:
    return Circumstances(**facts)


def test_the_narrative_of_a_good_recording_is_short_and_in_order() -> None:
    assert summed(circumstances=facts(treated=False)).conclusion == (
        "Good enough by the rule of ESC 2024: 40 of 40 scheduled readings valid (100 %).",
        "Awake average 138.0/85.8 mmHg: at or above the limit 135/85 of ESC 2024.",
        "Asleep average 118.8/70.1 mmHg: at or above the limit 120/70 of ESC 2024.",
        "24-hour average 131.6/80.5 mmHg: at or above the limit 130/80 of ESC 2024.",
        "Systolic dip 13.9 % (awake 138.0, asleep 118.8 mmHg): dipper (10 % or more and below 20 %).",
    )


def test_the_local_review_sentence_stands_first_and_irregular_pulse_next() -> None:
    recording = a_recording(circumstances=facts(irregular_pulse=True))
    review = Review(rule="local", rows=(12,), sentence="Values above your local review limit.")
    found = summarise(recording, examined_of(recording, review=review), rules_with())
    assert found.conclusion[0] == "Values above your local review limit."
    assert found.conclusion[1].startswith("Irregular pulse: automated values may be wrong")
    assert found.review is review


def test_not_adequate_gives_values_only_and_advises_to_repeat() -> None:
    found = summed(adequacy={"verdict": Verdict.NOT_ADEQUATE, "reasons": ("Only 5 of 8 asleep readings are valid.",)})
    assert found.interpretations == ()
    assert found.conclusion == (
        "Not good enough by the rule of ESC 2024: Only 5 of 8 asleep readings are valid. "
        "Repeating the recording is advised.",
        "Awake average 138.0/85.8 mmHg (32 valid readings), without interpretation.",
        "Asleep average 118.8/70.1 mmHg (8 valid readings), without interpretation.",
        "24-hour average 131.6/80.5 mmHg (40 valid readings), without interpretation.",
    )
    assert stated(found, StatisticName.SYSTOLIC_MEAN, AWAKE).value == Decimal("138.0")


def test_not_proven_is_interpreted_and_says_so() -> None:
    found = summed(adequacy={"verdict": Verdict.NOT_PROVEN, "reasons": ("The schedule is not known.",)})
    assert found.conclusion[0] == ("Not proven to be good enough by the rule of ESC 2024: The schedule is not known.")
    assert found.interpretation(Subject.PRESSURE, AWAKE)
    bare = summed(adequacy={"verdict": Verdict.NOT_PROVEN})
    assert bare.conclusion[0].endswith("the schedule is not known, so the share of valid readings cannot be stated.")


@pytest.mark.parametrize(
    ("changes", "site_age", "why"),
    [
        ({"person": a_person(birth_date=None)}, None, "the age is not known, so no limits for adults are applied."),
        (
            {"person": a_person(birth_date=date(2008, 3, 4))},
            None,
            "the limits of ESC 2024 are used from the age of 18 years on.",
        ),
        (
            {"person": a_person(birth_date=date(2000, 1, 1))},
            40,
            "the limits of ESC 2024 are used from the age of 40 years on.",
        ),
        ({"circumstances": facts(pregnancy_weeks=20)}, None, "the limits of ESC 2024 are not meant for pregnancy."),
    ],
)
def test_no_limits_for_an_age_or_state_they_are_not_made_for(
    changes: dict[str, Any], site_age: int | None, why: str
) -> None:
    found = summed(rules=rules_with(lowest_age=site_age), **changes)
    assert (found.rules.interpreted, found.rules.why_not) == (False, why)
    assert found.interpretations == ()
    assert f"Values only: {why}" in found.conclusion
    assert not any("limit 1" in sentence for sentence in found.conclusion)
    load = stated(found, StatisticName.SYSTOLIC_LOAD, AWAKE)
    assert load.reason == "not computable, because no limits may be applied to this recording"
    assert stated(found, StatisticName.SYSTOLIC_MEAN, AWAKE).value == Decimal("138.0")


def test_eighteenth_birthday_counts_on_the_day() -> None:
    assert summed(person=a_person(birth_date=date(2008, 3, 3))).rules.interpreted
    leap = summed(person=a_person(birth_date=date(2008, 2, 29)))
    assert leap.rules.interpreted


def test_a_site_cannot_lower_the_age() -> None:
    found = summed(rules=rules_with(lowest_age=10), person=a_person(birth_date=date(2010, 1, 1)))
    assert not found.rules.interpreted


def test_a_pregnancy_guideline_is_for_pregnancy_only() -> None:
    rules = rules_with(a_guideline(context="pregnancy", short="SOGC 2014"))
    assert summed(rules=rules, circumstances=facts(pregnancy_weeks=20)).rules.interpreted
    assert summed(rules=rules).rules.why_not == "the limits of SOGC 2014 are meant for pregnancy only."


@pytest.mark.parametrize(
    ("every", "fact", "irregular"), [(5, None, True), (6, None, False), (5, False, True), (99, True, True)]
)
def test_irregular_pulse_withholds_variability_stiffness_and_double_product(
    every: int, fact: bool | None, irregular: bool
) -> None:
    readings = [replace(r, irregular=n % every == 0) for n, r in enumerate(readings_over()[:30])]
    recording = a_recording(readings, circumstances=facts(irregular_pulse=fact))
    found = summarise(recording, examined_of(recording), rules_with())
    reason = "not computable, because the pulse was irregular" if irregular else None
    for name, period in (
        (StatisticName.SYSTOLIC_SD, AWAKE),
        (StatisticName.SYSTOLIC_ARV, AWAKE),
        (StatisticName.DOUBLE_PRODUCT_MEAN, AWAKE),
        (StatisticName.DIASTOLIC_CV, WHOLE),
        (StatisticName.SYSTOLIC_SD_WEIGHTED, None),
    ):
        assert stated(found, name, period).reason == reason, name
    assert (stated(found, StatisticName.AASI).reason == reason) or not irregular
    assert stated(found, StatisticName.SYSTOLIC_MEAN, AWAKE).value is not None


def reverse(at: datetime) -> tuple[float, float, float]:
    asleep = at.hour >= 23 or at.hour < 7
    return (140, 88, 80) if asleep else (130, 80, 70)


def test_pressure_and_heart_rate_both_higher_asleep_ask_to_check_the_clock() -> None:
    recording = a_recording(readings_over(profile=reverse))
    earlier = Finding(rule="gap", severity=Severity.NOTE, sentence="A gap.")
    found = summarise(recording, examined_of(recording, findings=(earlier,)), rules_with())
    assert [f.rule for f in found.findings] == ["gap", "reverse-with-heart-rate"]
    assert found.findings[1].severity is Severity.CAUTION
    assert found.findings[1].sentence in found.conclusion
    assert stated(found, StatisticName.SYSTOLIC_DIP).value == Decimal("-7.7")
    assert found.interpretation(Subject.SYSTOLIC_DIP, None).result == "reverse-dipper"  # type: ignore[union-attr]


def test_cautions_of_validation_are_told_once_and_notes_are_not() -> None:
    recording = a_recording()
    findings = tuple(
        Finding(rule=rule, severity=severity, sentence=sentence)
        for rule, severity, sentence in (
            ("zone", Severity.CAUTION, "The time zone was assumed."),
            ("zone", Severity.CAUTION, "The time zone was assumed."),
            ("gap", Severity.NOTE, "A gap."),
        )
    )
    found = summarise(recording, examined_of(recording, findings=findings), rules_with())
    assert found.conclusion.count("The time zone was assumed.") == 1
    assert "A gap." not in found.conclusion
    assert found.findings == findings


def test_reverse_pressure_alone_does_not() -> None:
    recording = a_recording(readings_over(profile=lambda at: (*reverse(at)[:2], 70 - (at.hour < 7))))
    assert summarise(recording, examined_of(recording), rules_with()).findings == ()


def test_sleep_by_day_is_said() -> None:
    recording = a_recording()
    windows = examined_of(recording).windows
    assert windows is not None
    found = summarise(recording, examined_of(recording, windows=replace(windows, sleep_by_day=True)), rules_with())
    assert "Sleep was by day: awake and asleep are compared, not day and night." in found.conclusion


def test_dip_and_night_are_not_classed_without_20_and_7() -> None:
    found = summed(adequacy={"dip_ready": False})
    assert found.interpretation(Subject.SYSTOLIC_DIP, None) is None
    assert found.interpretation(Subject.PRESSURE, ASLEEP) is None
    assert found.interpretation(Subject.PATTERN, None) is None
    assert found.interpretation(Subject.PRESSURE, AWAKE) is not None
    assert stated(found, StatisticName.SYSTOLIC_DIP).value == Decimal("13.9")
    assert (
        "Asleep average 118.8/70.1 mmHg (8 valid readings), not held against a limit: "
        "this needs 20 awake and 7 asleep valid readings." in found.conclusion
    )
    assert "Dip not classed: this needs 20 awake and 7 asleep valid readings." in found.conclusion


def test_too_few_for_a_filed_mean_give_no_dip() -> None:
    recording = a_recording(readings_over(every=lambda at: 170 if at.hour >= 23 or at.hour < 7 else 30))
    found = summarise(recording, examined_of(recording), rules_with())
    dip = stated(found, StatisticName.SYSTOLIC_DIP)
    assert dip.reason == "not computable, because it needs 8 awake and 4 asleep valid readings"
    assert stated(found, StatisticName.SYSTOLIC_MEAN, ASLEEP).value is not None
    assert found.interpretation(Subject.PRESSURE, ASLEEP) is None


@pytest.mark.parametrize(
    ("treated", "sentence"),
    [
        (True, "Treated: each limit is a diagnostic limit, not a treatment target."),
        (None, "Treatment not known: each limit is a diagnostic limit, not a treatment target."),
    ],
)
def test_limits_are_not_targets(treated: bool | None, sentence: str) -> None:
    rules = rules_with(a_guideline(treatment_note="Targets stand in section 9 of the guideline."))
    found = summed(rules=rules, circumstances=facts(treated=treated))
    assert found.conclusion[-2:] == (sentence, "Targets stand in section 9 of the guideline.")


def test_limits_from_memory_are_said_and_so_is_who_approved_them() -> None:
    guideline = a_guideline()
    awake = next(found for found in guideline.limits if found.period is AWAKE)
    grades = tuple(g.model_copy(update={"standing": Standing.MEMORY}) for g in awake.grades)
    unsure = awake.model_copy(update={"grades": grades})
    others = tuple(found for found in guideline.limits if found.period is not AWAKE)
    from_memory = guideline.model_copy(update={"limits": (unsure, *others)})
    said = summed(rules=rules_with(from_memory), circumstances=facts(treated=False)).conclusion
    assert said[-1] == "Not every limit of ESC 2024 used here was verified at its source."
    approved = from_memory.model_copy(
        update={"approved_by": "Clinical lead", "approved_on": date(2026, 1, 9), "approved_source": "paper"}
    )
    found = summed(rules=rules_with(approved), circumstances=facts(treated=False))
    assert found.conclusion[-1] == "Limits of ESC 2024 approved locally by Clinical lead on 2026-01-09."
    assert found.rules.approved_locally == "Clinical lead"


@pytest.mark.parametrize(
    ("origin", "text"),
    [
        (WindowOrigin.DIARY, "Awake and asleep by the person's diary."),
        (WindowOrigin.MARKED, "Awake and asleep by the sleep marks in the file, which count as a diary."),
        (WindowOrigin.SITE, "Awake and asleep by the fixed times of this site."),
        (WindowOrigin.GUIDELINE, "Awake and asleep by the fixed times of ESC 2024."),
    ],
)
def test_origin_of_the_windows_in_words(origin: WindowOrigin, text: str) -> None:
    recording = a_recording()
    windows = examined_of(recording).windows
    assert windows is not None
    found = summarise(recording, examined_of(recording, windows=replace(windows, origin=origin)), rules_with())
    assert found.rules.windows_text == text
    assert isinstance(found.rules.windows_text, Phrase)
    assert (text in found.conclusion) is (origin in (WindowOrigin.SITE, WindowOrigin.GUIDELINE))
    assert (found.rules.guideline, found.rules.limits) == ("esc-2024", "Widest limits")


def test_a_short_recording_has_no_24_hour_mean() -> None:
    recording = a_recording(readings_over(hours=15))
    found = summarise(recording, examined_of(recording), rules_with())
    assert found.interpretation(Subject.PRESSURE, WHOLE) is None
    (told,) = (text for text in found.conclusion if text.startswith("Average of the whole recording "))
    assert told == (
        "Average of the whole recording 136.9/84.8 mmHg (29 valid readings): only 15 of 24 hours hold a valid "
        "reading, so no 24-hour limit is applied."
    )


def test_two_days_are_told_apart() -> None:
    nights = [(datetime(2026, 3, d, 23, tzinfo=LONDON), datetime(2026, 3, d + 1, 7, tzinfo=LONDON)) for d in (3, 4)]
    recording = a_recording(
        readings_over(hours=48), diary=Diary(asleep=tuple(Interval(start, end) for start, end in nights))
    )
    found = summarise(recording, examined_of(recording, days=2), rules_with())
    assert found.statistic(StatisticName.SYSTOLIC_MEAN, AWAKE, 2) is not None
    assert found.statistic(StatisticName.SYSTOLIC_DIP, None, 2) is not None
    for subject in (Subject.SYSTOLIC_DIP, Subject.DIASTOLIC_DIP):
        assert found.interpretation(Subject.PRESSURE, AWAKE, 2) is not None
        assert [i.day for i in found.interpretations if i.subject is subject] == [1, 2]
    assert any(s.startswith("Awake average (day 2) ") for s in found.conclusion)
    mornings = [found.statistic(StatisticName.MORNING_MEAN, None, day) for day in (1, 2)]
    assert all(one and one.value == Decimal("138.5") for one in mornings)
    assert found.statistic(StatisticName.FIRST_HOUR_SYSTOLIC_MEAN, None, 2) is None


def test_a_mean_pressure_that_was_measured_is_not_mixed_with_the_derived_one() -> None:
    readings = [replace(reading, mean=1111) for reading in readings_over()]
    recording = a_recording(readings)  # type: ignore[arg-type]
    found = summarise(recording, examined_of(recording), rules_with())
    assert stated(found, StatisticName.MEAN_PRESSURE_MEAN, AWAKE).value == Decimal("111.1")
    assert stated(found, StatisticName.MEAN_PRESSURE_DERIVED, AWAKE).value == Decimal("103.2")


def test_a_heart_rate_kept_out_leaves_the_pressures() -> None:
    recording = a_recording()
    examined = examined_of(recording)
    judged = tuple(replace(j, heart_rate_excluded="heart-rate-range") for j in examined.judged)
    found = summarise(recording, replace(examined, judged=judged), rules_with())
    rate = stated(found, StatisticName.HEART_RATE_MEAN, AWAKE)
    assert (rate.reason, rate.count) == ("not computable, because no valid heart rate lies in this period", 0)
    assert stated(found, StatisticName.HEART_RATE_DIP).value is None
    assert stated(found, StatisticName.SYSTOLIC_MEAN, AWAKE).value == Decimal("138.0")


def test_a_recording_without_any_sleep() -> None:
    found = summed(diary=Diary())
    assert found.statistic(StatisticName.SYSTOLIC_MEAN, ASLEEP) is None
    assert stated(found, StatisticName.SYSTOLIC_DIP).reason == (
        "not computable, because it needs an awake and an asleep period with valid readings"
    )
    assert stated(found, StatisticName.SURGE_SLEEP_TROUGH).reason == (
        "not computable, because the time of waking is not known"
    )


def test_a_single_reading_is_told_in_the_singular() -> None:
    recording = a_recording([a_reading()])
    found = summarise(recording, examined_of(recording), rules_with())
    assert (
        "Awake average 130.0/80.0 mmHg (1 valid reading), not held against a limit: "
        "too few valid readings in this period." in found.conclusion
    )


AWAKE_ONLY: dict[str, Any] = {"limits": (three(AWAKE, (120, 70), (135, 85)),), "deciding_periods": (AWAKE,)}


def test_a_period_without_a_limit_says_whose_rules_state_none() -> None:
    found = summed(rules=rules_with(a_guideline(short="NICE NG136", **AWAKE_ONLY)))
    assert "Asleep average 118.8/70.1 mmHg (8 valid readings); NICE NG136 states no limit for it." in found.conclusion
    assert (
        "24-hour average 131.6/80.5 mmHg (40 valid readings); NICE NG136 states no limit for it." in found.conclusion
    )


def test_a_missing_limit_is_told_before_missing_readings() -> None:
    """With 15 hours the night is short and the day incomplete, yet no further reading would bring a limit."""
    recording = a_recording(readings_over(hours=15))
    found = summarise(recording, examined_of(recording), rules_with(a_guideline(**AWAKE_ONLY)))
    alone = [text for text in found.conclusion if "states no limit for it" in text]
    assert [text.split(" 1")[0] for text in alone] == ["Asleep average", "Average of the whole recording"]
    assert not any("hours hold a valid" in text or "not held against" in text for text in found.conclusion)


@pytest.mark.parametrize(
    "changes", [{"person": a_person(birth_date=None)}, {"circumstances": Circumstances(pregnancy_weeks=20)}]
)
def test_where_no_limits_apply_the_reason_is_told_once_and_each_value_stands_plain(changes: dict[str, Any]) -> None:
    found = summed(rules=rules_with(a_guideline(**AWAKE_ONLY)), **changes)
    assert found.conclusion[1].startswith("Values only: ")
    assert all(text.endswith(" valid readings), without interpretation.") for text in found.conclusion[2:5])
    assert not any("limit" in text for text in found.conclusion[2:])


def test_no_valid_reading_at_all_still_gives_a_summary() -> None:
    readings = [a_reading(START + timedelta(hours=n), None, None, row=n + 1) for n in range(20)]
    recording = a_recording(readings)
    found = summarise(recording, examined_of(recording), rules_with())
    assert all(one.value is None and one.reason for one in found.statistics)
    assert "Awake average: no value, because no valid reading lies in this period." in found.conclusion


def test_without_windows_there_is_nothing_to_summarise() -> None:
    recording = a_recording()
    with pytest.raises(ValueError, match="only after its windows"):
        summarise(recording, replace(examined_of(recording), windows=None), rules_with())


def test_historical_marks_are_kept() -> None:
    recording = a_recording()
    assert summarise(recording, examined_of(recording, historical=True), rules_with()).historical


def clinic_pattern(awake: float, hours: float, **adequacy: Any) -> str:
    readings = readings_over(
        hours=hours, profile=lambda at: (100, 60, 60) if at.hour >= 23 or at.hour < 7 else (awake, 80, 70)
    )
    recording = a_recording(readings, circumstances=facts(clinic_systolic=1300, clinic_diastolic=800))
    found = summarise(recording, examined_of(recording, adequacy=adequacy), rules_with())
    said = found.interpretation(Subject.CLINIC_PATTERN, None)
    return said.result if said else "nothing said"


def test_outside_the_clinic_is_below_only_when_every_deciding_period_is_known_to_be() -> None:
    assert clinic_pattern(130, 24) == "both-below"
    assert clinic_pattern(130, 24, dip_ready=False) == "nothing said"  # the night may not be spoken of
    assert clinic_pattern(140, 24, dip_ready=False) == "outside-only"  # one raised period is enough
    assert clinic_pattern(130, 15) == "nothing said"  # no 24-hour mean
    assert clinic_pattern(140, 15) == "outside-only"


def test_all_text_is_plain() -> None:
    found = summed(circumstances=facts(irregular_pulse=True), person=a_person(birth_date=None))
    reasons = [one.reason for one in found.statistics if one.reason]
    assert {type(text) for text in (*found.conclusion, found.rules.why_not, *reasons)} <= {str, Phrase}


def test_every_statistic_stands_once() -> None:
    found = summed()
    keys = [(one.name, one.period, one.day) for one in found.statistics]
    assert len(keys) == len(set(keys))
    assert {one.name for one in found.statistics} == set(StatisticName)


def half_hourly(at: datetime) -> int:
    return 30


def surge_profile(at: datetime) -> tuple[float, float, float]:
    clock = at.hour + at.minute / 60
    if clock in (3, 4):
        return 112, 60, 55
    if clock == 3.5:
        return 104, 60, 55
    if clock >= 23 or clock < 7:
        return 120 + 4 * (5 <= clock < 7), 66, 55
    return (150, 90, 80) if 7 <= clock < 9 else (136, 84, 70)


def test_morning_surges_of_a_half_hourly_night() -> None:
    # Kario 2003: two hours after waking 150, lowest reading 104 with its neighbours 112 and 112 -> 109.333
    recording = a_recording(readings_over(every=half_hourly, profile=surge_profile))
    found = summarise(recording, examined_of(recording), rules_with())
    trough = stated(found, StatisticName.SURGE_SLEEP_TROUGH)
    assert (trough.value, trough.count) == (Decimal("40.7"), 7)
    assert stated(found, StatisticName.SURGE_PRE_WAKING).value == Decimal("26.0")
    assert stated(found, StatisticName.MORNING_MEAN).value == Decimal("150.0")


def test_surge_needs_a_known_waking() -> None:
    recording = a_recording()
    windows = examined_of(recording).windows
    assert windows is not None
    found = summarise(recording, examined_of(recording, windows=replace(windows, waking=())), rules_with())
    for name in (StatisticName.SURGE_SLEEP_TROUGH, StatisticName.SURGE_PRE_WAKING, StatisticName.MORNING_MEAN):
        assert stated(found, name).reason == "not computable, because the time of waking is not known"


def test_first_hour_after_fitting_stands_apart() -> None:
    def early(at: datetime) -> tuple[float, float, float]:
        return (160, 95, 80) if at < START + timedelta(hours=1) else (130, 80, 70)

    recording = a_recording(readings_over(profile=early))
    found = summarise(recording, examined_of(recording), rules_with())
    one = stated(found, StatisticName.FIRST_HOUR_SYSTOLIC_MEAN)
    assert (one.value, one.count) == (Decimal("160.0"), 2)


def test_a_nap_parts_the_awake_readings() -> None:
    # without the nap's readings 150 at 13:00 and 130 at 15:00 would look like successive ones
    def by_nap(at: datetime) -> tuple[float, float, float]:
        return (150, 90, 70) if at < datetime(2026, 3, 3, 13, tzinfo=LONDON) else (130, 80, 70)

    nap = Interval(datetime(2026, 3, 3, 13, tzinfo=LONDON), datetime(2026, 3, 3, 15, tzinfo=LONDON))
    recording = a_recording(readings_over(profile=by_nap), diary=Diary(asleep=(nap,)))
    found = summarise(recording, examined_of(recording), rules_with())
    assert stated(found, StatisticName.SYSTOLIC_ARV, AWAKE).value == Decimal("0.0")
    assert stated(found, StatisticName.SYSTOLIC_ARV, WHOLE).value == Decimal("0.5")


def test_every_number_names_what_it_rests_on_and_its_decimals() -> None:
    """32 awake and 8 asleep readings, two of them without a heart rate; spread by pandas: awake 2.49, asleep 3.10."""
    readings = [replace(r, heart_rate=None) if n < 2 else r for n, r in enumerate(readings_over())]
    found = summed(readings=readings)
    for name, period, text, count in (
        (StatisticName.SYSTOLIC_CV, AWAKE, "1.8", 32),
        (StatisticName.DIASTOLIC_CV, ASLEEP, "2.3", 8),
        (StatisticName.SYSTOLIC_ARV, AWAKE, "4.1", 32),
        (StatisticName.SYSTOLIC_ARV_WEIGHTED, WHOLE, "5.0", 40),
        (StatisticName.DOUBLE_PRODUCT_MEAN, ASLEEP, "6888", 8),
        (StatisticName.SYSTOLIC_SD_WEIGHTED, None, "2.7", 40),
        (StatisticName.DIASTOLIC_SD_WEIGHTED, None, "1.4", 40),
        (StatisticName.SYSTOLIC_DIP, None, "13.9", 40),
        (StatisticName.HEART_RATE_DIP, None, "21.6", 38),
        (StatisticName.HEART_RATE_MEAN, AWAKE, "74.0", 30),
        (StatisticName.PULSE_PRESSURE_MEAN, AWAKE, "52.3", 32),
    ):
        one = stated(found, name, period)
        assert (str(one.value), one.count) == (text, count), name
    assert stated(found, StatisticName.DOUBLE_PRODUCT_MEAN, AWAKE).count == 30


def test_counts_of_the_adequacy_sentence() -> None:
    recording = a_recording(readings_over(hours=48))
    windows = examined_of(recording, days=2)
    both = summarise(recording, windows, rules_with()).conclusion[0]
    assert both == (
        "Good enough by the rule of ESC 2024: day 1: 40 of 40 scheduled readings valid (100 %); "
        "day 2: 40 of 40 scheduled readings valid (100 %)."
    )
    single = examined_of(a_recording()).adequacy
    assert single is not None
    unknown = tuple(replace(count, scheduled=None, percent=None) for count in single.counts)
    assert summed(adequacy={"counts": unknown}).conclusion[0] == (
        "Good enough by the rule of ESC 2024: 40 valid readings."
    )


@pytest.mark.parametrize("verdict", [Verdict.NOT_ADEQUATE, Verdict.NOT_PROVEN])
def test_several_reasons_follow_each_other(verdict: Verdict) -> None:
    found = summed(adequacy={"verdict": verdict, "reasons": ("First reason.", "Second reason.")})
    assert ": First reason. Second reason." in found.conclusion[0]
