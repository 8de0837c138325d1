"""The Provenance of a correction, and how it is told from that of a first filing."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from gateway.fhir.address import LINK
from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import coding_of, filled, link, moment
from gateway.fhir.identity import SYSTEM, Identity
from gateway.fhir.narrative import narrative, paragraphs
from gateway.mapping.codes import Codes


def is_correction(resources: Sequence[Resource]) -> bool:
    """Did these resources correct what was filed before?"""
    return any(item.rank is Rank.PROVENANCE and revises(item) for item in resources)


def revised(resources: Sequence[Resource]) -> frozenset[str]:
    """Our ids of what the Provenance among these resources tells of."""
    targets = (target for item in resources if item.rank is Rank.PROVENANCE for target in item.body["target"])
    return frozenset(str(target["reference"]).removeprefix(LINK) for target in targets)


def revises(provenance: Resource) -> bool:
    """It tells of a correction, and so of a part of what is filed."""
    return any(coding.get("code") == "UPDATE" for coding in provenance.body["activity"]["coding"])


def revision(source: Resource, touched: Sequence[str], identity: Identity, codes: Codes, at: datetime) -> Resource:
    """What was changed (our ids), from which export, and that it revises the recording. `source` is the Provenance of
    the result as it is composed now.
    """
    own = identity.uuid(f"provenance {at.isoformat()}")
    recording = {"system": SYSTEM, "value": f"{LINK}{identity.recording_key}"}
    meaning = codes.meaning("revise", False)
    said = f"{len(touched)} resources were added, changed or taken back."
    return replace(
        source,
        body={
            **source.body,
            "id": own,
            "meta": {"tag": [{"system": SYSTEM, "code": f"{LINK}{own}"}]},
            "text": narrative("Correction of the result", paragraphs([said, f"Recorded {moment(at)}."])),
            "target": [link(each) for each in touched],
            "recorded": moment(at),
            "activity": filled(coding=[coding_of(coding) for coding in meaning.codings], text=meaning.text),
            "entity": [
                *source.body["entity"],
                {"role": "revision", "what": {"identifier": recording, "display": "Recording corrected"}},
            ],
        },
    )
