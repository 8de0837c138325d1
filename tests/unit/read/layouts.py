"""A small source map of our own for tests, and the shortest way to read a table with it."""

from typing import Any

from gateway.mapping.site import SiteDefaults
from gateway.mapping.source import SourceMap
from gateway.model import Hold, HoldReason, Reading, Recording
from gateway.read import read
from tests.unit.read.told import line

SITE = SiteDefaults(zone="Europe/London", identifier_system="https://example.org/site-number")


def a_map(readings: dict[str, Any] | None = None, form: dict[str, Any] | None = None, **changes: Any) -> SourceMap:
    """`taken;upper;lower;beats` with the number of the person above it; a test changes what it is about."""
    return SourceMap.model_validate(
        {
            "name": "small",
            "version": "1",
            "title": "Small map for tests",
            "signs": {"columns": ["taken", "upper", "lower"]},
            "format": {"kind": "delimited", "delimiter": ";", "decimal": ".", **(form or {})},
            "person": {"identifier": {"fact": "number"}},
            "timezone": {"fact": "zone"},
            "readings": {
                "time": {"how": "instant", "column": "taken", "pattern": "YYYY-MM-DD hh:mm"},
                "unit": "mmHg",
                "systolic": {"column": "upper"},
                "diastolic": {"column": "lower"},
                "heart_rate": {"column": "beats"},
                **(readings or {}),
            },
            **changes,
        }
    )


def a_file(*rows: str, header: str = "taken;upper;lower;beats", facts: str = "number;0042\n\n") -> bytes:
    return (facts + "\n".join((header, *rows)) + "\n").encode()


def recorded(content: bytes, source: SourceMap | None = None, site: SiteDefaults = SITE) -> Recording:
    result = read(content, "export.txt", [source or a_map()], site)
    assert isinstance(result, Recording), result
    return result


def held(content: bytes, source: SourceMap | None = None, site: SiteDefaults = SITE) -> Hold:
    result = read(content, "export.txt", [source or a_map()], site)
    assert isinstance(result, Hold), result
    return result


def reason(content: bytes, source: SourceMap | None = None, site: SiteDefaults = SITE) -> HoldReason:
    return held(content, source, site).reason


def readings(content: bytes, source: SourceMap | None = None, site: SiteDefaults = SITE) -> tuple[Reading, ...]:
    return recorded(content, source, site).readings


def lines(content: bytes, source: SourceMap | None = None, site: SiteDefaults = SITE) -> list[str]:
    """Attempts as plain words without their row numbers."""
    return [line(each).split(": ", 1)[1] for each in readings(content, source, site)]
