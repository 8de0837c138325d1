"""FHIR R4 4.0.1, both ways: what we file, and what record servers say. Pure; nothing here talks to a server.

content   resources as exact, stable bytes       identity  opaque ids
address   neutral resources -> what is sent      asking    what to ask about our own resources
compose   recording + summary -> resources       check     what must hold before anything is sent
answers   what servers say
"""

from gateway.fhir.address import (
    Address,
    Entry,
    Part,
    PatientLink,
    address_of,
    best_way,
    filed_as,
    is_filed,
    next_part,
)
from gateway.fhir.answers import Capabilities, capabilities
from gateway.fhir.asking import Search, found, searches
from gateway.fhir.check import check, check_bundle
from gateway.fhir.compose import compose
from gateway.fhir.content import Parcel, Rank, Resource, bundle, content_hash, pack, parsed, unpack, written
from gateway.fhir.identity import SYSTEM, Identity, person_key, recording_key

__all__ = [
    "SYSTEM",
    "Address",
    "Capabilities",
    "Entry",
    "Identity",
    "Parcel",
    "Part",
    "PatientLink",
    "Rank",
    "Resource",
    "Search",
    "address_of",
    "best_way",
    "bundle",
    "capabilities",
    "check",
    "check_bundle",
    "compose",
    "content_hash",
    "filed_as",
    "found",
    "is_filed",
    "next_part",
    "pack",
    "parsed",
    "person_key",
    "recording_key",
    "searches",
    "unpack",
    "written",
]
