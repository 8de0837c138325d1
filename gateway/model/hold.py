"""Why work waits for a person, in words that a nurse can act on."""

from dataclasses import dataclass, field
from enum import StrEnum

from gateway.model.phrase import Phrase


class HoldReason(StrEnum):
    """Closed list. Each has a sentence and an action below, and a row in `deploy/README.md` (a test holds both)."""

    # the file
    FILE_EMPTY = "file-empty"
    FILE_TOO_LARGE = "file-too-large"
    FILE_UNREADABLE = "file-unreadable"
    FILE_ENCODING = "file-encoding"
    FILE_HOSTILE = "file-hostile"
    NO_MAP = "no-map"
    SEVERAL_MAPS = "several-maps"
    PDF_ALONE = "pdf-alone"
    VALUE_UNREADABLE = "value-unreadable"
    FACTS_DISAGREE = "facts-disagree"
    UNITS_DOUBTFUL = "units-doubtful"
    # the time
    TIME_ZONE_UNKNOWN = "time-zone-unknown"
    TIME_UNREADABLE = "time-unreadable"
    TIME_NOT_RISING = "time-not-rising"
    TIME_IN_FUTURE = "time-in-future"
    TIME_DOUBTFUL = "time-doubtful"
    RECORDING_TOO_LONG = "recording-too-long"
    RECORDING_TOO_OLD = "recording-too-old"
    SLEEP_DOUBTFUL = "sleep-doubtful"
    # the person
    IDENTIFIER_MISSING = "identifier-missing"
    IDENTIFIER_SYSTEM_UNKNOWN = "identifier-system-unknown"
    IDENTIFIER_INVALID = "identifier-invalid"
    IDENTIFIER_TEST = "identifier-test"
    BIRTH_DATE_MISSING = "birth-date-missing"
    BIRTH_DATE_DOUBTFUL = "birth-date-doubtful"
    # the person and the monitor, beside what was taken in before
    READINGS_OF_OTHER = "readings-of-other"
    READINGS_AT_OTHER_TIME = "readings-at-other-time"
    MONITOR_ON_OTHER = "monitor-on-other"
    PERSON_TWICE_AT_ONCE = "person-twice-at-once"
    PERSON_AGAIN = "person-again"
    MONITOR_OUT_TO_OTHER = "monitor-out-to-other"
    MONITOR_UNKNOWN = "monitor-unknown"
    MONITOR_OVERDUE = "monitor-overdue"
    MONITOR_ELSEWHERE = "monitor-elsewhere"
    RECORDING_BROKEN = "recording-broken"
    # the readings
    NOTHING_VALID = "nothing-valid"
    # the site's rules
    NO_DESTINATION = "no-destination"
    NOT_SIGNED_OFF = "not-signed-off"
    # the store
    RECORDING_CHANGED = "recording-changed"
    RECORDING_PARTIAL = "recording-partial"
    RECORDING_SEVERAL = "recording-several"
    WITHDRAWN_BEFORE = "withdrawn-before"
    CONTENT_FAULT = "content-fault"
    PROCESSING_FAULT = "processing-fault"
    # one destination
    PERSON_NOT_FOUND = "person-not-found"
    PERSON_SEVERAL = "person-several"
    PERSON_INACTIVE = "person-inactive"
    PERSON_DECEASED = "person-deceased"
    PERSON_MISMATCH = "person-mismatch"
    ORDER_OF_OTHER = "order-of-other"
    ORDER_NONE = "order-none"
    ORDER_SEVERAL = "order-several"
    PERSON_ANSWER_DOUBTFUL = "person-answer-doubtful"
    RECORD_REFUSED = "record-refused"
    RECORD_CONFLICT = "record-conflict"
    RECORD_INCOMPLETE = "record-incomplete"
    RECORD_UNSUITABLE = "record-unsuitable"
    REPORT_DROPPED = "report-dropped"


@dataclass(frozen=True, slots=True)
class Advice:
    """What happened and what to do, both one plain sentence without anybody's details."""

    sentence: str
    action: str


ADVICE: dict[HoldReason, Advice] = {
    HoldReason.FILE_EMPTY: Advice("The file is empty.", "Export the recording from the monitor software again."),
    HoldReason.FILE_TOO_LARGE: Advice(
        "The file is far larger than a recording can be.",
        "Check that the right file was exported; if so, ask IT to raise the limit.",
    ),
    HoldReason.FILE_UNREADABLE: Advice(
        "The file is damaged or cut off and cannot be read.", "Export the recording again."
    ),
    HoldReason.FILE_ENCODING: Advice(
        "The letters in the file cannot be read (unknown text encoding).",
        "Export again as UTF-8, or ask IT to set the encoding in the source map.",
    ),
    HoldReason.FILE_HOSTILE: Advice(
        "The file holds something that a recording never holds and that can do harm.",
        "Do not open it; tell IT where it came from.",
    ),
    HoldReason.NO_MAP: Advice(
        "No source map describes a file like this one.",
        "Check that it is a blood-pressure export; if so, ask IT to describe this layout in a source map.",
    ),
    HoldReason.SEVERAL_MAPS: Advice(
        "More than one source map claims this file.", "Ask IT to make the signs of the maps exclusive."
    ),
    HoldReason.PDF_ALONE: Advice(
        "A PDF came without its export: none of the same name lay beside it, or that one is in the record already.",
        "Put the export and the PDF into the inbox together; where the recording is in the record already, have the "
        "PDF filed there by hand. Then refuse this one.",
    ),
    HoldReason.VALUE_UNREADABLE: Advice(
        "Something in the file cannot be read as the value it should be.",
        "Export again without opening the file in a spreadsheet; if it stays, ask IT to check the source map.",
    ),
    HoldReason.FACTS_DISAGREE: Advice(
        "The file says two different things about the same fact.",
        "Check the person and the set-up of the monitor, then export again.",
    ),
    HoldReason.UNITS_DOUBTFUL: Advice(
        "The pressures do not look like the unit that the file or its map states.",
        "Ask IT whether this export is in mmHg or in kPa.",
    ),
    HoldReason.TIME_ZONE_UNKNOWN: Advice(
        "The time zone of the readings is not known.", "Ask IT to set the time zone of the site."
    ),
    HoldReason.TIME_UNREADABLE: Advice(
        "A date or time in the file cannot be read.",
        "Export again without opening the file in a spreadsheet; if it stays, ask IT to check the source map.",
    ),
    HoldReason.TIME_NOT_RISING: Advice(
        "The times of the readings jump back.",
        "Check whether two recordings were exported into one file, then export the right one again.",
    ),
    HoldReason.TIME_IN_FUTURE: Advice(
        "Readings lie in the future.", "Check the clock of the monitor, then decide whether to release or refuse."
    ),
    HoldReason.TIME_DOUBTFUL: Advice(
        "The dates of the readings cannot be right (day and month, or the clock, may be exchanged).",
        "Compare with the appointment: when was the monitor worn? Ask IT to check the source map.",
    ),
    HoldReason.RECORDING_TOO_LONG: Advice(
        "The readings span more time than one recording can.",
        "Check whether two recordings are in one file, then export the right one again.",
    ),
    HoldReason.RECORDING_TOO_OLD: Advice(
        "The recording ended long ago.", "Check that this is the file you meant; release it if it is."
    ),
    HoldReason.SLEEP_DOUBTFUL: Advice(
        "The sleep times in the file cannot be right.",
        "Check the diary with the person, correct the sleep times and export again.",
    ),
    HoldReason.IDENTIFIER_MISSING: Advice(
        "The file does not say whose recording this is.",
        "Enter the person's number in the monitor software and export again.",
    ),
    HoldReason.IDENTIFIER_SYSTEM_UNKNOWN: Advice(
        "It is not known what kind of number the person's number is.",
        "Ask IT to set the identifier system of the site.",
    ),
    HoldReason.IDENTIFIER_INVALID: Advice(
        "The person's number is not a possible number of its kind (a digit may be wrong).",
        "Compare it with the record, correct it and export again.",
    ),
    HoldReason.IDENTIFIER_TEST: Advice(
        "The person's number is a test number.", "Use the person's real number; test numbers are not filed here."
    ),
    HoldReason.BIRTH_DATE_MISSING: Advice(
        "A birth date is missing, so the person cannot be confirmed.",
        "Enter the birth date and export again.",
    ),
    HoldReason.BIRTH_DATE_DOUBTFUL: Advice(
        "The birth date cannot be right.", "Correct the birth date and export again."
    ),
    HoldReason.READINGS_OF_OTHER: Advice(
        "This looks like a recording taken in before under another person.",
        "Find out whose it is. If this file names the wrong person, refuse it; if the earlier one did, have that one "
        "taken out of the record first, then release this.",
    ),
    HoldReason.READINGS_AT_OTHER_TIME: Advice(
        "This looks like a recording of the same person taken in before with other times.",
        "Compare with the appointment. If the earlier one has the right times, refuse this copy; if this one has, "
        "have the earlier one taken out of the record first, then release this.",
    ),
    HoldReason.MONITOR_ON_OTHER: Advice(
        "The monitor was on another person during a part of this recording.",
        "Check who wore the monitor when: was it set up for the right person, and is its clock right?",
    ),
    HoldReason.PERSON_TWICE_AT_ONCE: Advice(
        "Another recording of the same person covers a part of the same time.",
        "Check whether both are this person's: was the other monitor set up for somebody else?",
    ),
    HoldReason.PERSON_AGAIN: Advice(
        "A recording of this person was taken in shortly before, or by this monitor last, and nothing says that a "
        "second one was wanted.",
        "Was the monitor set for the new patient? Compare with the appointment; release it if it is this person's, "
        "or release it with the right number.",
    ),
    HoldReason.MONITOR_OUT_TO_OTHER: Advice(
        "By the list of expected recordings the monitor was out to somebody else.",
        "Compare with the list: correct the list, or release it with the right number.",
    ),
    HoldReason.MONITOR_UNKNOWN: Advice(
        "The monitor is not in the site's register of monitors.",
        "Check its serial number; ask IT to enter it in the register, or release the recording.",
    ),
    HoldReason.MONITOR_OVERDUE: Advice(
        "The calibration of the monitor was overdue.",
        "Have it calibrated. Repeat the recording with another monitor, or release it if the clinician accepts it.",
    ),
    HoldReason.MONITOR_ELSEWHERE: Advice(
        "By the register the monitor belongs to another site.",
        "Find out how it came here and who wore it; release the recording when that is certain.",
    ),
    HoldReason.RECORDING_BROKEN: Advice(
        "There is a long break in the middle, in which the monitor did not even try.",
        "Check whether two people wore the monitor one after the other; release it if it was one.",
    ),
    HoldReason.NOTHING_VALID: Advice("Not one reading can be used.", "The recording must be repeated."),
    HoldReason.NOT_SIGNED_OFF: Advice(
        "The result waits for a clinician's sign-off.",
        "Look at the report (`bp-gateway preview FILE --pdf OUT`), then release it in the clinician's name.",
    ),
    HoldReason.NO_DESTINATION: Advice(
        "No record is set up to take this recording.",
        "Check the name of the site in the file, or ask IT where such recordings belong; then release it.",
    ),
    HoldReason.RECORDING_CHANGED: Advice(
        "This recording is filed already, and this file says something else.",
        "Compare the two (`held show`): release if this file is right, refuse it if the filed one is.",
    ),
    HoldReason.RECORDING_PARTIAL: Advice(
        "This recording is filed already, and this file holds only a part of it.",
        "Refuse it, or export the whole recording again; if what is filed is wrong, retract the recording first.",
    ),
    HoldReason.RECORDING_SEVERAL: Advice(
        "This file holds readings of more than one recording that is filed already.",
        "Check in the monitor software which recording it is, and export that one alone.",
    ),
    HoldReason.WITHDRAWN_BEFORE: Advice(
        "This recording was filed before and then withdrawn.",
        "Check whose it is and why it was withdrawn; release it if it is to be filed again, else refuse it.",
    ),
    HoldReason.CONTENT_FAULT: Advice(
        "The result could not be put into a valid form.", "Tell IT; the details are in the record of this hold."
    ),
    HoldReason.PROCESSING_FAULT: Advice(
        "The gateway stumbled over this file several times.", "Tell IT; the original file is kept unchanged."
    ),
    HoldReason.PERSON_NOT_FOUND: Advice(
        "The record has nobody with this number.",
        "Compare the number with the record; correct it and export again, or register the person first.",
    ),
    HoldReason.PERSON_SEVERAL: Advice(
        "The record has more than one person with this number.",
        "Have the doubled registration put right, then release.",
    ),
    HoldReason.PERSON_INACTIVE: Advice(
        "The person's entry in the record is not active.", "Check the registration, then release."
    ),
    HoldReason.PERSON_DECEASED: Advice(
        "The record says that the person had died before this recording.",
        "Check whose recording this is; do not release before that is certain.",
    ),
    HoldReason.PERSON_MISMATCH: Advice(
        "The record's entry for this number does not fit the person named in the file.",
        "Check whose recording this is: was the monitor set up for the right person?",
    ),
    HoldReason.ORDER_OF_OTHER: Advice(
        "The order that the file names is another person's.",
        "Check whose recording this is; release it with the right number, or as it is if only the order is wrong.",
    ),
    HoldReason.ORDER_NONE: Advice(
        "The record has no open order for this recording.",
        "Enter the order in the record and release, or release it to be filed without an order.",
    ),
    HoldReason.ORDER_SEVERAL: Advice(
        "The record has more than one open order for this recording.",
        "Close those in the record that are done and release, or release it to be filed without an order.",
    ),
    HoldReason.PERSON_ANSWER_DOUBTFUL: Advice(
        "The record's answer to the search for the person cannot be trusted.",
        "Tell IT; nothing was filed.",
    ),
    HoldReason.RECORD_REFUSED: Advice(
        "The record refused the result.", "Tell IT; the record's own words are in the record of this hold."
    ),
    HoldReason.RECORD_CONFLICT: Advice(
        "The record holds something under our numbers that we did not put there, or in another version.",
        "Tell IT; nothing was overwritten.",
    ),
    HoldReason.RECORD_INCOMPLETE: Advice(
        "The record did not keep everything that it said it kept.",
        "Tell IT; look at the person's record before relying on it.",
    ),
    HoldReason.RECORD_UNSUITABLE: Advice(
        "The record server cannot take results in a safe way.", "Tell IT; `bp-gateway check` says what is missing."
    ),
    HoldReason.REPORT_DROPPED: Advice(
        "The one-page report is larger than the record takes.", "Tell IT; the readings are not affected."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Work that waits for a person. `detail` adds what was seen where (row numbers, names of fields), never the
    person's own details; `rule` is the name that a waiver must carry to let it pass, "" where no waiver can.
    """

    reason: HoldReason
    detail: str = ""
    rule: str = ""
    findings: tuple[str, ...] = field(default=())

    @property
    def sentence(self) -> Phrase:
        """What happened, one plain sentence."""
        text = Phrase(ADVICE[self.reason].sentence)
        return Phrase("{sentence} ({detail})", sentence=text, detail=self.detail) if self.detail else text

    @property
    def action(self) -> str:
        """What the nurse can do."""
        return ADVICE[self.reason].action
