"""Recording -> Examined, in the order of the rules. Never raises for a recording, whatever it holds."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gateway.mapping.rules import Rules
from gateway.model import Adequacy, Examined, Finding, Hold, Recording, Review, Windows
from gateway.periods import SLEEP_RULE, find
from gateway.validate.adequacy import assess
from gateway.validate.case import Case, Doubt, Remark, Rule
from gateway.validate.course import COURSE_RULES, Course
from gateway.validate.edition import edition_current
from gateway.validate.first_hour import first_hour_said, hour_after_fitting, set_apart
from gateway.validate.monitor import MONITOR_RULES
from gateway.validate.person import PERSON_RULES
from gateway.validate.plausibility import exclusions_said, judge, something_valid
from gateway.validate.programme import programme
from gateway.validate.review import review_of
from gateway.validate.spread import without_outliers
from gateway.validate.timing import TIMING_RULES, historical
from gateway.validate.units import unit_plausible

RULES: tuple[Rule, ...] = (
    *PERSON_RULES,
    *MONITOR_RULES,
    *TIMING_RULES,
    unit_plausible,
    something_valid,
    edition_current,
)
"""rules before the windows, in order; the first doubt among all rules is the one that holds"""


def examine(recording: Recording, rules: Rules, now: datetime, waived: frozenset[str] = frozenset()) -> Examined:
    """What was found in a recording, and what each reading may be used for.

    `waived` are names of rules that a named person let pass for this recording; their doubts become cautions.
    """
    review = review_of(recording, rules.review)
    judged = tuple(judge(reading, rules.limits) for reading in recording.readings)
    if rules.first_hour_apart:
        judged = set_apart(judged, hour_after_fitting(recording))
    case = Case(recording=recording, rules=rules, now=now, judged=judged)
    remarks: list[Remark] = [remark for rule in RULES for remark in rule(case)]
    cut = _cut(case, remarks, waived)
    remarks += [*cut.remarks, *exclusions_said(cut.case), *cut.findings]
    return _verdict(cut, remarks, review, waived)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """The case once its windows are known; both None when its times carry no windows."""

    case: Case
    windows: Windows | None = None
    adequacy: Adequacy | None = None
    remarks: tuple[Remark, ...] = ()
    findings: tuple[Finding, ...] = ()


def _cut(case: Case, remarks: Iterable[Remark], waived: frozenset[str]) -> _Cut:
    if any(isinstance(remark, Doubt) and remark.timeless and remark.stands(waived) for remark in remarks):
        return _Cut(case=case)
    windows = find(case.recording, case.rules)
    if not isinstance(windows, Hold):
        return _assessed(case, windows, ())
    doubt = Doubt(rule=SLEEP_RULE, reason=windows.reason, detail=windows.detail)
    if doubt.stands(waived):
        return _Cut(case=case, remarks=(doubt,))
    trusted = find(case.recording, case.rules, trust_sleep=True)
    return _Cut(case=case, remarks=(doubt,)) if isinstance(trusted, Hold) else _assessed(case, trusted, (doubt,))


def _assessed(case: Case, windows: Windows, remarks: Sequence[Remark]) -> _Cut:
    recording, rule = case.recording, case.rules.guideline.adequacy
    judged = without_outliers(case.judged, windows, case.rules.limits.spread)
    plan = programme(recording, windows, case.rules)
    hour = hour_after_fitting(recording) if case.rules.first_hour_apart else None
    adequacy = assess(recording, judged, windows, plan, rule, hour)
    course = Course(recording=recording, windows=windows, plan=plan, adequacy=adequacy, rule=rule)
    return _Cut(
        case=replace(case, judged=judged),
        windows=windows,
        adequacy=adequacy,
        remarks=tuple(remarks),
        findings=(
            *(finding for said in COURSE_RULES for finding in said(course)),
            *(first_hour_said(judged) if hour else ()),
        ),
    )


def _verdict(cut: _Cut, remarks: Sequence[Remark], review: Review, waived: frozenset[str]) -> Examined:
    standing = [remark for remark in remarks if isinstance(remark, Doubt) and remark.stands(waived)]
    also = [doubt.hold().sentence for doubt in standing[1:]]
    return Examined(
        judged=cut.case.judged,
        findings=tuple(r.finding(waived) if isinstance(r, Doubt) else r for r in remarks),
        review=review,
        windows=cut.windows,
        adequacy=cut.adequacy,
        hold=standing[0].hold(also) if standing else None,
        historical=historical(cut.case),
    )
