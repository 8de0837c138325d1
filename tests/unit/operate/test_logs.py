"""Nothing of a person reaches the log, whoever logs it."""

import io
import json
from pathlib import Path

import pytest

from gateway.errors import StoreError
from gateway.operate.logs import LONGEST, allowed, fault, file_mark, open_log

NAME, NUMBER, BORN = "ZZTESTNAME", "9990000018", "1958-07-16"


def test_only_listed_fields_pass() -> None:
    entry = {"event": "processed", "recording": "3f2a", "reason": "no-map", "family_name": NAME, "identifier": NUMBER}
    assert allowed(entry) == {"event": "processed", "recording": "3f2a", "reason": "no-map"}


def test_a_file_name_is_only_its_short_hash() -> None:
    entry = allowed({"event": "taken", "file": f"{NAME}_{NUMBER}.csv"})
    assert entry["file"] == file_mark(f"{NAME}_{NUMBER}.csv")
    assert len(entry["file"]) == 12 and NAME not in str(entry)


@pytest.mark.parametrize("event", [f"read {NAME}", f"person {NUMBER}, {BORN}", "", "Étrange", "x" * 80])
def test_an_event_that_is_no_short_name_is_not_written(event: str) -> None:
    assert allowed({"event": event})["event"] == "unnamed"


@pytest.mark.parametrize("value", [{"name": NAME}, [NAME], (NAME,), NAME.encode(), object()])
def test_structures_are_dropped_even_under_a_listed_name(value: object) -> None:
    assert allowed({"event": "x", "reason": value}) == {"event": "x"}


def test_one_entry_is_one_line_and_never_endless() -> None:
    said = allowed({"event": "x", "said": "a\nb\r\x1b[31m" + "c" * 1000})["said"]
    assert "\n" not in said and "\r" not in said and len(said) == LONGEST


def test_an_error_of_the_system_is_told_without_the_path() -> None:
    try:
        Path(f"/nonexistent/{NAME}.csv").read_bytes()
    except OSError as error:
        told = fault(error)
    assert told["kind"] == "FileNotFoundError" and told["said"] == "No such file or directory"
    assert NAME not in str(told)


def test_an_error_of_unknown_words_is_told_by_kind_and_place_only() -> None:
    try:
        raise ValueError(f"bad birth date {BORN} of {NAME}")
    except ValueError as error:
        told = fault(error)
    assert told["kind"] == "ValueError" and told["said"] == "" and told["where"]
    assert fault(StoreError("the disk is full"))["said"] == "the disk is full"


@pytest.mark.parametrize("form", ["json", "console"])
def test_the_written_log_names_nobody(form: str) -> None:
    out = io.StringIO()
    log = open_log(form, "info", out)  # type: ignore[arg-type]
    log.info("processed", recording="3f2a", name=NAME, detail=NUMBER, birth_date=BORN)
    try:
        raise ValueError(NAME)
    except ValueError as error:
        log.error("fault", exc_info=True, error=error, **fault(error))
    log.warning(f"about {NAME}")
    written = out.getvalue()
    assert "3f2a" in written and "ValueError" in written
    assert not any(secret in written for secret in (NAME, NUMBER, BORN))
    if form == "json":
        assert [json.loads(line)["level"] for line in written.splitlines()] == ["info", "error", "warning"]


def test_the_level_is_kept() -> None:
    out = io.StringIO()
    log = open_log("json", "error", out)
    log.info("processed")
    assert out.getvalue() == ""
