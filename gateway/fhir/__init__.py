"""FHIR R4 4.0.1, both ways: what we file, and what record servers say. Pure; nothing here talks to a server.

content   resources as exact, stable bytes       identity   opaque ids          answers   what servers say
"""

from gateway.fhir.answers import Capabilities, capabilities
from gateway.fhir.content import Parcel, Rank, Resource, bundle, content_hash, pack, parsed, unpack, written
from gateway.fhir.identity import SYSTEM, Identity, person_key, recording_key

__all__ = [
    "SYSTEM",
    "Capabilities",
    "Identity",
    "Parcel",
    "Rank",
    "Resource",
    "bundle",
    "capabilities",
    "content_hash",
    "pack",
    "parsed",
    "person_key",
    "recording_key",
    "unpack",
    "written",
]
