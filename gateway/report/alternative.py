"""The course in words, for a reader who cannot see it."""

from gateway.model import PeriodName, Recording, Summary, Use
from gateway.report.headline import days_of, mean_of, ordered, period_label
from gateway.report.scene import Scene, limit_of
from gateway.report.text import clock, moment_text, pair, tenths, whole
from gateway.report.words import Words


def alternative(recording: Recording, summary: Summary, scene: Scene, words: Words) -> str:
    """What the plot shows, in whole sentences with the numbers of the summary."""
    local = scene.clock.local
    span = words.say(
        "span", start=moment_text(local(recording.began), words), end=moment_text(local(recording.ended), words)
    )
    uses = [one.use for one in summary.judged]
    counts = {use.value: uses.count(use) for use in Use}
    parts = [words.say("alt-course", span=span, **counts)]
    parts += _averages(summary, words)
    if scene.asleep:
        spans = [words.say("span", start=clock(local(s.start)), end=clock(local(s.end))) for s in scene.asleep]
        parts.append(words.say("alt-asleep", spans=", ".join(spans)))
    for change in scene.changes:
        key = "plot-clock-forward" if change.minutes > 0 else "plot-clock-back"
        what = words.say(key, minutes=abs(change.minutes))
        parts.append(words.say("alt-clock", when=moment_text(local(change.at), words), what=what))
    rates = [one.reading.heart_rate for one in scene.valid if one.reading.heart_rate and not one.heart_rate_excluded]
    if rates:
        parts.append(words.say("alt-heart-rate", low=tenths(min(rates)), high=tenths(max(rates))))
    if scene.notes:
        parts.append(words.say("alt-notes", count=len(scene.notes)))
    return " ".join(parts)


def _averages(summary: Summary, words: Words) -> list[str]:
    parts, limits = [], []
    for period in ordered(summary):
        mean, label = (
            mean_of(summary, period.name, period.day),
            period_label(period.name, period.day, days_of(summary), words),
        )
        if mean.systolic is not None:
            parts.append(words.say("alt-average", period=label, value=pair(mean.systolic, mean.diastolic)))
        limit = limit_of(summary, period.name, period.day)
        if limit and period.name is not PeriodName.WHOLE:
            limits.append(words.say("alt-limit", period=label, limit=f"{whole(limit[0])}/{whole(limit[1])}"))
    return parts + (limits or [words["alt-no-limit"]])
