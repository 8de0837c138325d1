"""Recording + summary + printed page -> resources for one destination, in the order in which they are written."""

from datetime import datetime

from gateway.fhir.content import Rank, Resource
from gateway.fhir.devices import devices
from gateway.fhir.elements import Scope
from gateway.fhir.identity import Identity
from gateway.fhir.periods import periods
from gateway.fhir.provenance import provenance
from gateway.fhir.readings import readings
from gateway.fhir.report import report as reported
from gateway.fhir.whole import whole
from gateway.mapping.codes import Codes
from gateway.mapping.language import ENGLISH, Language
from gateway.mapping.profile import Profile
from gateway.model import Filing, Recording, Summary


def compose(
    recording: Recording,
    summary: Summary,
    filing: Filing,
    identity: Identity,
    codes: Codes,
    profile: Profile,
    issued: datetime,
    report: bytes | None,
    software: str,
    language: Language = ENGLISH,
    companion: bytes | None = None,
) -> tuple[Resource, ...]:
    """Destination-neutral resources: subject by number only, links by our UUIDs.

    `issued` is the instant of processing (aware), `report` the printed page or None, `software` our version.
    `language` is that of our own sentences here; those of `summary` were said before. `companion`: the PDF that the
    monitor's own software made, or None.
    The same arguments give the same resources. Raises ValueError when the recording names nobody.
    """
    scope = Scope(
        recording=recording,
        summary=summary,
        filing=filing,
        identity=identity,
        codes=codes,
        profile=profile,
        issued=issued,
        software=software,
        language=language,
    )
    results = (*periods(scope), *whole(scope))
    filed = (*devices(scope), *readings(scope), *results, *reported(scope, results, report, companion))
    return (*filed, provenance(scope, [item for item in filed if item.rank is not Rank.DEVICE]))
