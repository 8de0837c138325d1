"""Where the resources came from: the export, by its hash, and the gateway that assembled them."""

from base64 import urlsafe_b64encode
from collections.abc import Sequence

from gateway.fhir.content import Rank, Resource
from gateway.fhir.elements import Scope, concept, gateway_id, link, moment, span
from gateway.fhir.identity import SYSTEM
from gateway.fhir.narrative import narrative, paragraphs


def provenance(scope: Scope, targets: Sequence[Resource]) -> Resource:
    """One Provenance over everything else of the recording. R4 gives it no identifier, so a tag carries ours."""
    own = scope.identity.uuid("provenance")
    digest = scope.recording.source.sha256
    return Resource(
        Rank.PROVENANCE,
        {
            "resourceType": "Provenance",
            "id": own,
            "meta": {"tag": [{"system": SYSTEM, "code": f"urn:uuid:{own}"}]},
            "text": narrative(
                f"Source of {len(targets)} resources",
                paragraphs(
                    [
                        f"Assembled from an export of the monitor by the gateway, version {scope.software}.",
                        f"Recorded {moment(scope.issued)}.",
                    ]
                ),
            ),
            "target": [link(target.id) for target in targets],
            "occurredPeriod": span(scope.recording.began, scope.recording.ended),
            "recorded": moment(scope.issued),
            "activity": concept(scope, "create"),
            "agent": [{"type": concept(scope, "assembler"), "who": link(gateway_id(scope))}],
            "entity": [
                {
                    "role": "source",
                    "what": {
                        "identifier": {"system": SYSTEM, "value": named_information(digest)},
                        "display": f"Export of the monitor, SHA-256 {digest}",
                    },
                }
            ],
        },
    )


def named_information(digest: str) -> str:
    """A hex SHA-256 as a URI (RFC 6920, section 3): `ni:///sha-256;<base64url without padding>`."""
    return "ni:///sha-256;" + urlsafe_b64encode(bytes.fromhex(digest)).decode().rstrip("=")
