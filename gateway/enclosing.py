"""A recording with the PDF that came beside its export."""

from dataclasses import replace

from gateway.intake import Considered, Tools
from gateway.model import Companion, CompanionUse, Finding, Severity

RULE = "companion"


def enclosed(considered: Considered, companion: Companion | None, tools: Tools) -> Considered:
    """With the PDF, used as the site says; one that cannot be filed is said beside the result."""
    if companion is None or tools.companion is CompanionUse.IGNORE:
        return considered
    considered = replace(considered, companion=replace(companion, use=tools.companion))
    summary, sentence = considered.summary, companion.sentence
    if summary is None or sentence is None:
        return considered
    finding = Finding(rule=RULE, severity=Severity.CAUTION, sentence=sentence)
    return replace(considered, summary=replace(summary, findings=(*summary.findings, finding)))
