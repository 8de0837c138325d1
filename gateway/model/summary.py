"""The whole result of the analysis of one recording."""

from dataclasses import dataclass
from itertools import islice

from gateway.model.adequacy import Adequacy
from gateway.model.finding import Finding
from gateway.model.interpretation import Interpretation, Subject
from gateway.model.judgement import Judged
from gateway.model.period import PeriodName, Windows
from gateway.model.review import Review
from gateway.model.statistic import Statistic, StatisticName


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """Which published and local rules produced the numbers, for the reader of the result.

    `guideline` is the file's id, `guideline_title` the printed title with year, `deciding_mean` is
    "arithmetic" or "hourly" (the 24-hour mean that is held against the limit and filed),
    `approved_locally` is the approver's name when limits from memory were approved by the site, else "".
    `interpreted` is False when no adult limits may be applied (unknown age, under age, pregnancy without a
    pregnancy guideline); `why_not` then says so. `deciding_periods` are those that the guideline decides by; its
    limits of the other periods are a comparison only.
    """

    guideline: str
    guideline_title: str
    limits: str
    deciding_mean: str
    windows_text: str
    approved_locally: str = ""
    interpreted: bool = True
    why_not: str = ""
    deciding_periods: tuple[PeriodName, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Everything that report, record and audience get to see, computed once.

    `conclusion` is the short narrative: sentences of the closed list of words, most important first; `lines` says how
    many of them stand in each of its four lines: what to look at first, whether the recording is good enough, the
    averages, what bears on them. `historical` marks old data (no notices, headed so).
    """

    windows: Windows
    judged: tuple[Judged, ...]
    statistics: tuple[Statistic, ...]
    adequacy: Adequacy
    interpretations: tuple[Interpretation, ...]
    findings: tuple[Finding, ...]
    review: Review
    rules: RuleSet
    conclusion: tuple[str, ...]
    lines: tuple[int, ...]
    historical: bool = False
    comparison: tuple[str, ...] = ()

    @property
    def narrative(self) -> tuple[tuple[str, ...], ...]:
        """The sentences of the conclusion, line by line."""
        sentences = iter(self.conclusion)
        return tuple(tuple(islice(sentences, count)) for count in self.lines)

    def statistic(self, name: StatisticName, period: PeriodName | None, day: int = 1) -> Statistic | None:
        """The statistic of that name, period and day, None where it was not asked for."""
        return next((s for s in self.statistics if s.name is name and s.period is period and s.day == day), None)

    def interpretation(self, subject: Subject, period: PeriodName | None, day: int = 1) -> Interpretation | None:
        """The statement on that subject, None where nothing may be said."""
        return next(
            (i for i in self.interpretations if i.subject is subject and i.period is period and i.day == day),
            None,
        )
