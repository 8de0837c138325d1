"""Guideline and limits files: what is shipped is whole, and what is wrong is said with its place."""

from decimal import Decimal

import pytest

from gateway.errors import MappingError
from gateway.mapping.guideline import Guideline
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.parse import parse
from tests.unit.validate.ruling import MAPPINGS

GUIDELINES = sorted((MAPPINGS / "guidelines").glob("*.toml"))
LIMITS = sorted((MAPPINGS / "limits").glob("*.toml"))
NICE = (MAPPINGS / "guidelines" / "nice-ng136.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", GUIDELINES, ids=lambda path: path.stem)
def test_shipped_guidelines_load_under_their_own_name(path) -> None:  # type: ignore[no-untyped-def]
    assert parse(path.read_bytes(), Guideline, path.name).id == path.stem


@pytest.mark.parametrize("path", LIMITS, ids=lambda path: path.stem)
def test_shipped_limits_load_under_their_own_name(path) -> None:  # type: ignore[no-untyped-def]
    assert parse(path.read_bytes(), ReadingLimits, path.name).id == path.stem


def test_what_is_shipped() -> None:
    assert {path.stem for path in GUIDELINES} >= {"esc-2024", "nice-ng136", "aha-acc-2025"}
    assert {path.stem for path in LIMITS} >= {"widest", "none"}


def test_widest_limits() -> None:
    """Widest of the ranges of adult cohorts: systolic 50-260, diastolic 30-150, heart rate 20-200; from memory."""
    widest = parse((MAPPINGS / "limits" / "widest.toml").read_bytes(), ReadingLimits, "widest")
    ranges = [widest.systolic, widest.diastolic, widest.heart_rate]
    assert [(r.low, r.high) for r in ranges if r] == [
        (Decimal(50), Decimal(260)),
        (Decimal(30), Decimal(150)),
        (Decimal(20), Decimal(200)),
    ]
    assert {r.standing.value for r in ranges if r} == {"memory"}


def faults(text: str) -> str:
    with pytest.raises(MappingError) as error:
        parse(text.encode(), Guideline, "own.toml")
    return "\n".join(error.value.problems)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("deciding = true\n", "", "exactly one grade above the first carries deciding = true"),
        ("systolic = 150\n", "systolic = 130\n", "grade 'at-or-above-upper-limit' must lie above"),
        ('deciding_periods = ["awake"]', 'deciding_periods = ["asleep"]', "no limits are given for asleep"),
        ('standing = "verified"', 'standing = "sure"', "standing"),
        ("percent", "percent", ""),
        ("awake = 14\n", "awakened = 14\n", "unknown key; did you mean 'awake'?"),
        ("[windows]", "[windows]\nshape = 1", "windows.shape: unknown key"),
        ('id = "nice-ng136"\n', "", "id: is missing"),
        ('citation = "CG127', 'zitation = "CG127', "did you mean 'citation'?"),
    ],
)
def test_faults_name_the_place(old: str, new: str, said: str) -> None:
    if not said:
        assert old not in NICE, "NICE asks for no share, so nothing may invent one"
        return
    assert old in NICE
    assert said in faults(NICE.replace(old, new, 1))


def test_every_fault_is_told_at_once() -> None:
    text = NICE.replace('id = "nice-ng136"\n', "", 1).replace("awake = 14", "awake = 0", 1)
    assert {"id: is missing", "adequacy.awake"} <= {
        part for line in faults(text).splitlines() for part in ("id: is missing", "adequacy.awake") if part in line
    }


def test_limits_from_memory_need_a_named_approver() -> None:
    """The deciding number is no longer verified: production needs approved_by, a date and a source."""
    at = NICE.index("deciding = true")
    doubtful = NICE[:at] + NICE[at:].replace('standing = "verified"', 'standing = "memory"', 1)
    guideline = parse(doubtful.encode(), Guideline, "own.toml")
    assert guideline.unverified == ("awake at-or-above-limit",)
    assert guideline.needs_approval
    assert "approved_by needs approved_on and approved_source" in faults('approved_by = "A. Example"\n' + doubtful)
    signed = 'approved_by = "A. Example"\napproved_on = 2026-01-01\napproved_source = "the guideline"\n' + doubtful
    assert not parse(signed.encode(), Guideline, "own.toml").needs_approval
