"""HL7 v2 ORU^R01 (HL7 v2.5.1, chapters 2 and 7; OBX-11 by HL7 table 0085)."""

import pytest
from pydantic import ValidationError

from gateway.mapping.source import SourceMap
from gateway.model import HoldReason
from gateway.read import read
from tests.unit.read.layouts import SITE, held, lines, reason, recorded
from tests.unit.read.told import SAMPLES, shipped

(MAP,) = shipped("hl7-oru")
BATCH = (SAMPLES / "hl7-oru.hl7").read_text("utf-8")
HEAD = "MSH|^~\\&|A|B|||20260303120000||ORU^R01|1|P|2.5.1\rPID|1||A0042^^^EX^NH||Rook\r"


def obx(code: str, value: str, unit: str = "mm[Hg]", status: str = "F", at: str = "", kind: str = "NM") -> str:
    return f"OBX|1|{kind}|{code}^^LN||{value}|{unit}|||||{status}|||{at}\r"


def group(*observations: str, at: str = "202603030920") -> str:
    return f"OBR|1|||X|||{at}\r" + "".join(observations)


PAIR = (obx("8480-6", "131"), obx("8462-4", "82.5"))


def file(*groups: str, head: str = HEAD) -> bytes:
    return (head + "".join(groups)).encode()


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
def test_segments_end_as_files_and_messages_write_them(end) -> None:
    found = lines(BATCH.replace("\n", end).encode(), MAP)
    assert found == [
        "2026-03-03T09:10:00+00:00 measured 142.0/87.0 mean - pulse 75.0 scheduled note 'after the stairs'",
        "2026-03-03T09:30:00+00:00 failed 'X' scheduled",
        "2026-03-04T01:10:00+00:00 measured 118.0/69.0 mean - pulse - scheduled",
    ]


def test_one_group_with_a_time_at_each_observation() -> None:
    every = [
        obx("8480-6", "131", at="202607010920+0100"),
        obx("8462-4", "82", at="202607010920+0100"),
        obx("8480-6", "128", at="20260701094030.25+0100"),
        obx("8462-4", "79", at="20260701094030.25+0100"),
    ]
    assert lines(file(group(*every)), MAP) == [
        "2026-07-01T09:20:00+01:00 measured 131.0/82.0 mean - pulse - scheduled",
        "2026-07-01T09:40:30+01:00 measured 128.0/79.0 mean - pulse - scheduled",
    ]


@pytest.mark.parametrize(
    ("code", "status"), [*(("8480-6", status) for status in "WDPN"), ("8867-4", "W"), ("8867-4", "D")]
)
def test_a_result_that_is_wrong_deleted_or_not_final_is_never_used(code, status) -> None:
    changed = obx(code, "140", status=status) if code == "8480-6" else obx(code, "70", "/min", status)
    rest = PAIR[1:] if code == "8480-6" else PAIR
    assert reason(file(group(changed, *rest)), MAP) is HoldReason.VALUE_UNREADABLE


def test_a_heart_rate_that_could_not_be_obtained_is_missing() -> None:
    assert lines(file(group(*PAIR, obx("8867-4", "0", "/min", "X"))), MAP) == [
        "2026-03-03T09:20:00+00:00 measured 131.0/82.5 mean - pulse - scheduled"
    ]


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (file(group(*PAIR, obx("8480-6", "150"))), HoldReason.FACTS_DISAGREE),
        (file(group(obx("8480-6", "131~150"), PAIR[1])), HoldReason.FACTS_DISAGREE),
        (file(group(obx("8480-6", ">^131", kind="SN"), PAIR[1])), HoldReason.VALUE_UNREADABLE),
        (file(group(obx("8480-6", "131", "")), head=HEAD), HoldReason.UNITS_DOUBTFUL),
        (file(group(obx("8480-6", "17.5", "kPa"), PAIR[1])), HoldReason.FACTS_DISAGREE),
        (file(group(*PAIR, at="202603")), HoldReason.TIME_UNREADABLE),
        (file(group(*PAIR), head=HEAD + "PID|1||A0043^^^EX^NH\r"), HoldReason.FACTS_DISAGREE),
        (file(group(*PAIR), head=HEAD.replace("ORU^R01", "ADT^A01")), HoldReason.FILE_UNREADABLE),
        (file(group(*PAIR)) + b"and so on\r", HoldReason.FILE_UNREADABLE),
        (BATCH.replace("FTS|1\n", "").encode(), HoldReason.FILE_UNREADABLE),
        (BATCH.replace("BTS|2", "BTS|3").encode(), HoldReason.FILE_UNREADABLE),
        (file(group(*PAIR), head=HEAD.replace("^~\\&", "^^\\&")), HoldReason.FILE_UNREADABLE),
    ],
)
def test_a_file_that_cannot_be_trusted_is_held(content, expected) -> None:
    assert reason(content, MAP) is expected


@pytest.mark.parametrize("pid", ["", "PID|1||||Rook\r", "PID|1|| ^^^EX^NH\r", 'PID|1||""^^^EX^NH\r'])
def test_a_message_that_names_nobody_never_lends_its_readings_to_another(pid) -> None:
    nobody = HEAD.split("\r")[0] + "\r" + pid + group(*PAIR, at="202603031020")
    assert reason(file(group(*PAIR), nobody), MAP) is HoldReason.IDENTIFIER_MISSING
    assert reason(file(group(*PAIR), head=nobody + HEAD), MAP) is HoldReason.IDENTIFIER_MISSING
    before = file(group(*PAIR, at="202603031020"), head="FHS|^~\\&\r")
    assert reason(before + file(group(*PAIR)) + b"FTS|1\r", MAP) is HoldReason.IDENTIFIER_MISSING


def test_a_second_person_in_a_message_must_be_named_too() -> None:
    content = file(group(*PAIR), "PID|2||||Rook\r", group(*PAIR, at="202603031020"))
    assert reason(content, MAP) is HoldReason.IDENTIFIER_MISSING


def test_a_message_without_readings_need_not_name_anybody() -> None:
    other = HEAD.split("\r")[0] + "\r" + group(obx("59408-5", "97", "%"))
    assert len(lines(file(group(*PAIR), other), MAP)) == 1


def test_repetitions_without_end_are_hostile() -> None:
    head = HEAD.replace("A0042^^^EX^NH", "~".join(["A0042^^^EX^NH"] * 101))
    assert reason(file(group(*PAIR), head=head), MAP) is HoldReason.FILE_HOSTILE
    assert lines(file(group(*PAIR), head=head.replace("A0042^^^EX^NH~", "", 1)), MAP)


def test_a_count_of_thousands_of_digits_is_unreadable() -> None:
    content = BATCH.replace("BTS|2", "BTS|" + "2" * 5000).encode()
    assert reason(content, MAP) is HoldReason.FILE_UNREADABLE


@pytest.mark.parametrize(
    ("kind", "value"), [("SN", "^131^-^140"), ("SN", "=^131^/^2"), ("NM", "131^140"), ("NM", "13&1")]
)
def test_a_range_or_a_number_of_several_parts_is_no_value(kind, value) -> None:
    assert reason(file(group(obx("8480-6", value, kind=kind), PAIR[1])), MAP) is HoldReason.VALUE_UNREADABLE


@pytest.mark.parametrize(("kind", "value"), [("SN", "=^131"), ("SN", "^131^^"), ("NM", "131^"), ("NM", "131")])
def test_a_single_number_is_read_in_every_spelling(kind, value) -> None:
    assert "measured 131.0/82.5" in lines(file(group(obx("8480-6", value, kind=kind), PAIR[1])), MAP)[0]


def test_kilopascals_are_converted() -> None:
    pair = (obx("8480-6", "17.5", "kPa"), obx("8462-4", "10.9", "kPa"))
    assert lines(file(group(*pair)), MAP) == [
        "2026-03-03T09:20:00+00:00 measured 131.0/82.0 mean - pulse - scheduled"
    ]


def test_the_repetition_of_an_identifier_is_chosen_by_its_type() -> None:
    head = HEAD.replace("A0042^^^EX^NH", "L77^^^EX^MR~A0042^^^EX^NH")
    assert reason(file(group(*PAIR), head=head), MAP) is HoldReason.FACTS_DISAGREE
    person = MAP.person.model_copy(
        update={"identifier": MAP.person.identifier.model_copy(update={"fact": "PID-3[5=NH].1"})}
    )
    chosen = MAP.model_copy(update={"person": person})
    found = read(file(group(*PAIR), head=head), "a.hl7", [chosen], SITE)
    assert found.person.identifier.value == "A0042"


def test_escapes_stand_for_the_signs_and_others_stay() -> None:
    head = HEAD.replace("Rook", "Ro\\F\\o\\S\\k\\X41\\")
    assert recorded(file(group(*PAIR), head=head), MAP).person.family_name == "Ro|o^k\\X41\\"


def test_the_unit_is_always_taken_from_the_file() -> None:
    fixed = {**MAP.model_dump(exclude_none=True)}
    fixed["readings"] = {**fixed["readings"], "unit": "mmHg"}
    with pytest.raises(ValidationError, match="the file states it"):
        SourceMap.model_validate(fixed)


def test_a_message_of_another_layout_is_not_claimed() -> None:
    assert held(file(group(obx("59408-5", "97", "%"))), MAP).reason is HoldReason.NO_MAP


def said(content: bytes) -> list[str]:
    return [f"{note.at:%H:%M} {note.kind}: {note.text}" for note in recorded(content, MAP).diary.notes]


POSTURE = "OBX|4|CWE|8361-8^Body position^LN||X1^upright^99EX||||||F\r"


def test_a_posture_beside_the_pressures_and_a_note_below_them() -> None:
    content = file(group(*PAIR, POSTURE, "NTE|1||after the stairs~on foot\r"))
    assert said(content) == ["09:20 posture: upright"]
    assert recorded(content, MAP).readings[0].note == "after the stairs; on foot"


@pytest.mark.parametrize("place", ["before the observations", "below another observation"])
def test_a_note_on_something_else_is_no_note_on_the_reading(place: str) -> None:
    note = "NTE|1||order was late\r"
    before = (note, *PAIR) if place == "before the observations" else (*PAIR, obx("59408-5", "97", "%"), note)
    assert recorded(file(group(*before)), MAP).readings[0].note is None


def test_a_posture_in_a_group_of_its_own_is_an_entry_and_no_attempt() -> None:
    alone = group(POSTURE, "NTE|1||by the nurse\r", at="202603031000")
    recording = recorded(file(group(*PAIR), alone), MAP)
    assert len(recording.readings) == 1
    assert said(file(group(*PAIR), alone)) == ["10:00 posture: upright"]
    assert reason(file(alone), MAP) is HoldReason.NO_MAP


@pytest.mark.parametrize("status", ["W", "D"])
def test_an_entry_that_is_wrong_or_deleted_holds_the_file(status: str) -> None:
    wrong = POSTURE.replace("||||||F", f"||||||{status}")
    assert reason(file(group(*PAIR), group(wrong, at="202603031000")), MAP) is HoldReason.VALUE_UNREADABLE
    assert reason(file(group(*PAIR, wrong)), MAP) is HoldReason.VALUE_UNREADABLE


@pytest.mark.parametrize("unit", ["/min", "{beats}/min", "bpm", "", "264864^MDC_DIM_BEAT_PER_MIN^MDC"])
def test_a_heart_rate_per_minute_is_taken(unit: str) -> None:
    assert recorded(file(group(*PAIR, obx("8867-4", "70", unit))), MAP).readings[0].heart_rate == 700


@pytest.mark.parametrize("unit", ["Hz", "ms", "/s", "mm[Hg]"])
def test_a_heart_rate_in_another_unit_holds_the_file(unit: str) -> None:
    assert reason(file(group(*PAIR, obx("8867-4", "70", unit))), MAP) is HoldReason.UNITS_DOUBTFUL


def test_the_same_code_of_another_system_is_another_code() -> None:
    other = PAIR[0].replace("^^LN", "^^99EX")
    assert lines(file(group(*PAIR, other)), MAP) == lines(file(group(*PAIR)), MAP)
    recording = recorded(file(group(*PAIR), group(other, at="202603031000")), MAP)
    assert len(recording.readings) == 1
    assert recording.source.remarks == ("segments with other observations (row 7): not known to the map, not used",)
