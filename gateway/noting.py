"""What the audit log keeps of the way from file to results: counts, codes, names of rules; no person and no value."""

from collections.abc import Sequence

from gateway import fhir
from gateway.intake import Considered, Made, Route, Tools, where_to


def how_filed(
    considered: Considered, made: Made, parcels: Sequence[tuple[Route, fhir.Parcel]], tools: Tools
) -> dict[str, object]:
    """All of it, for a recording that is filed for the first time."""
    found = how_read(considered) | _how_made(made) | _how_routed(considered, tools)
    unclaimed = {
        route.filing.destination: list(texts)
        for route, parcel in parcels
        if (texts := fhir.unclaimed(parcel.resources, route.profile, tools.codes))
    }
    return found | ({"unclaimed": unclaimed} if unclaimed else {})


def how_read(considered: Considered) -> dict[str, object]:
    """How the file was read, counts, names of findings."""
    recording, examined = considered.recording, considered.examined
    if recording is None:
        return {"outcome": "not-read"}
    return {
        "map": recording.source.map_name,
        "map_version": recording.source.map_version,
        "encoding": recording.source.encoding,
        "attempts": len(recording.readings),
        "findings": sorted({finding.rule for finding in examined.findings}) if examined else [],
    }


def _how_made(made: Made) -> dict[str, object]:
    """Which rules made the result, and what became of a PDF that came with the export."""
    companion = made.companion
    found: dict[str, object] = {
        "guideline": made.summary.rules.guideline,
        "limits": made.summary.rules.limits,
        "adequacy": made.summary.adequacy.verdict.value,
        "review_met": made.summary.review.met,
        "report": made.report is not None,
    }
    return found | ({"companion": companion.fate, "companion_sha256": companion.sha256} if companion else {})


def _how_routed(considered: Considered, tools: Tools) -> dict[str, object]:
    """Which destinations do not get it, and why; nothing where all do."""
    kept = [f"{route.filing.destination}: {why.value}" for route, why in where_to(considered, tools) if why]
    return {"not_to": sorted(kept)} if kept else {}
