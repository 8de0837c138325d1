"""FHIR R4 4.0.1, both ways: what we file, and what record servers say. Pure; nothing here talks to a server.

compose    recording + summary -> resources        check     what must hold before anything is queued or sent
content    resources as exact, stable bytes        identity  opaque ids
correct    what was filed + what it is now -> what stands there once it is corrected
withdraw   what was filed -> what stands there once it is withdrawn
address    where our resources are on one server   parts     what is sent next
asking     what to ask about our own resources     answers   what servers say
"""

from gateway.fhir.address import Address, PatientLink, address_of, filed_as, is_filed
from gateway.fhir.answers import Capabilities, best_way, capabilities
from gateway.fhir.asking import Search, found, searches
from gateway.fhir.check import check, check_bundle
from gateway.fhir.claiming import unclaimed
from gateway.fhir.compose import compose
from gateway.fhir.content import (
    Parcel,
    Rank,
    Resource,
    began,
    bundle,
    content_hash,
    links,
    pack,
    parsed,
    unpack,
    written,
)
from gateway.fhir.correct import Correction, correct
from gateway.fhir.identity import SYSTEM, Identity, person_key, recording_key
from gateway.fhir.parts import Entry, Part, is_print, next_part
from gateway.fhir.revision import is_correction, revised
from gateway.fhir.withdraw import ENDED, GONE, Notice, never_there, only_there, withdraw

__all__ = [
    "ENDED",
    "GONE",
    "SYSTEM",
    "Address",
    "Capabilities",
    "Correction",
    "Entry",
    "Identity",
    "Notice",
    "Parcel",
    "Part",
    "PatientLink",
    "Rank",
    "Resource",
    "Search",
    "address_of",
    "began",
    "best_way",
    "bundle",
    "capabilities",
    "check",
    "check_bundle",
    "compose",
    "content_hash",
    "correct",
    "filed_as",
    "found",
    "is_correction",
    "is_filed",
    "is_print",
    "links",
    "never_there",
    "next_part",
    "only_there",
    "pack",
    "parsed",
    "person_key",
    "recording_key",
    "revised",
    "searches",
    "unclaimed",
    "unpack",
    "withdraw",
    "written",
]
