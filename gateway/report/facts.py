"""How it was measured and judged, what to be careful about, and the note list."""

from gateway.model import Monitor, Recording, Schedule, Severity, Summary, WindowOrigin
from gateway.report.clock import clock_of
from gateway.report.letterhead import Letterhead
from gateway.report.scene import told_notes
from gateway.report.text import moment_text, plain
from gateway.report.words import Words

MOST_CAUTIONS = 6


def facts(recording: Recording, summary: Summary, words: Words) -> list[list[str]]:
    """Name and value of everything that a reader needs to trust the numbers."""
    rules, found = summary.rules, words[f"windows-{summary.windows.origin}"]
    if summary.windows.origin in (WindowOrigin.SITE, WindowOrigin.GUIDELINE):
        found += f": {plain(rules.windows_text, 130)}"
    if summary.windows.sleep_by_day:
        found += f", {words['sleep-by-day']}"
    guideline = plain(rules.guideline_title, 110)
    if rules.approved_locally:
        guideline += f"; {words.say('approved', who=plain(rules.approved_locally, 50))}"
    around = recording.circumstances
    known = words[f"schedule-{summary.adequacy.schedule}"]
    zone = recording.zone or f"{recording.began:%z}"
    rows = [
        [words["guideline"], guideline],
        [words["windows"], found],
        [words["limits"], plain(rules.limits, 130)],
        [words["schedule"], f"{_schedule(recording.schedule, words)} ({known})"],
        [words["monitor"], _monitor(recording.monitor, words)],
        [words["cuff"], _cuff(recording.monitor, words)],
        [words["indication"], plain(around.indication or "", 90)],
        [words["order"], plain(around.order or "", 40)],
        [words["zone"], f"{plain(zone, 40)} ({words[f'zone-{recording.source.zone_origin}']})"],
    ]
    return [row for row in rows if row[1]]


def origin(recording: Recording, letterhead: Letterhead, words: Words) -> list[list[str]]:
    """What finds the file and the software again."""
    rows = [
        [words["source"], plain(f"{recording.source.map_name} {recording.source.map_version}", 50)],
        [words["software"], plain(letterhead.software, 60)],
        [words["fingerprint"], plain(letterhead.fingerprint or recording.source.sha256, 80)],
    ]
    return [row for row in rows if row[1]]


def _schedule(schedule: Schedule, words: Words) -> str:
    day, night = schedule.interval_day, schedule.interval_night
    if day is None and night is None:
        return words["not-given"]
    if day is None or night is None or day == night:
        return words.say("schedule-one", day=day or night)
    return words.say("schedule-of", day=day, night=night)


def _monitor(monitor: Monitor, words: Words) -> str:
    parts = [plain(monitor.model or "", 60)]
    if monitor.serial:
        parts.append(words.say("serial", serial=plain(monitor.serial, 40)))
    return ", ".join(part for part in parts if part) or words["not-given"]


def _cuff(monitor: Monitor, words: Words) -> str:
    parts = [plain(monitor.cuff_size or "", 40)]
    if monitor.arm:
        parts.append(words[f"arm-{monitor.arm}"])
    if monitor.arm_circumference is not None:
        parts.append(words.say("circumference", value=f"{monitor.arm_circumference:g}"))
    return ", ".join(part for part in parts if part) or words["not-given"]


def cautions(summary: Summary, words: Words) -> list[str]:
    """What the rules remarked about this recording, as far as the conclusion does not say it already."""
    remarks = [one.sentence for one in summary.findings if one.severity in (Severity.CAUTION, Severity.HOLD)]
    found = [plain(sentence, 240) for sentence in dict.fromkeys(remarks) if sentence not in summary.conclusion]
    if len(found) > MOST_CAUTIONS:
        found = [*found[:MOST_CAUTIONS], words.say("more", count=len(found) - MOST_CAUTIONS)]
    return found


def standing_cautions(words: Words) -> str:
    """What holds for every recording."""
    return " ".join(words[f"caution-{key}"] for key in ("clinician", "adults", "rhythm", "adequacy", "treated"))


def notes(recording: Recording, words: Words) -> list[list[str]]:
    """Number, time and text of each diary note, in the order of the numbers on the course."""
    clock = clock_of(recording)
    shown = told_notes(recording)
    rows = [
        [str(at), f"{moment_text(clock.local(note.at), words)} {words[f'note-{note.kind}']}: {plain(note.text, 48)}"]
        for at, note in enumerate(shown, start=1)
    ]
    if more := len(recording.diary.notes) - len(shown):
        rows.append(["", words.say("more", count=more)])
    return rows
