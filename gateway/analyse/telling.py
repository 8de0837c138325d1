"""The same summary in another language: every sentence said anew, every number and code as it was."""

from dataclasses import replace

from gateway.mapping.language import ENGLISH, Language
from gateway.model import Adequacy, RuleSet, Summary


def told(summary: Summary, language: Language) -> Summary:
    """The summary as report and record get to see it. Text that is no phrase of ours (a site's own) stays."""
    if language.id == ENGLISH.id:
        return summary
    tell = language.tell
    return replace(
        summary,
        judged=tuple(replace(one, why=tell(one.why)) if one.why else one for one in summary.judged),
        statistics=tuple(replace(one, reason=tell(one.reason)) if one.reason else one for one in summary.statistics),
        adequacy=_adequacy(summary.adequacy, language),
        interpretations=tuple(replace(one, text=tell(one.text)) for one in summary.interpretations),
        findings=tuple(replace(one, sentence=tell(one.sentence)) for one in summary.findings),
        review=replace(summary.review, sentence=tell(summary.review.sentence)),
        rules=_rules(summary.rules, language),
        conclusion=tuple(tell(sentence) for sentence in summary.conclusion),
        comparison=tuple(tell(line) for line in summary.comparison),
    )


def _adequacy(adequacy: Adequacy, language: Language) -> Adequacy:
    reasons = tuple(language.tell(reason) for reason in adequacy.reasons)
    return replace(adequacy, rule=language.tell(adequacy.rule), reasons=reasons)


def _rules(rules: RuleSet, language: Language) -> RuleSet:
    return replace(
        rules,
        limits=language.tell(rules.limits),
        windows_text=language.tell(rules.windows_text),
        why_not=language.tell(rules.why_not),
    )
