"""The record speaks the language of the site where it speaks in sentences; codes and their names stay."""

from dataclasses import replace

import pytest

from gateway.analyse.telling import told
from gateway.fhir import check, compose
from gateway.model import Kind, ReportChoice
from gateway.settings.maps import load
from tests.builders import NOW, a_recording, readings_over
from tests.unit.fhir.building import (
    PAGE,
    SOFTWARE,
    a_filing,
    a_summary,
    all_codes,
    bodies,
    identity_of,
    international,
)

LANGUAGES = load(None).languages
BEGINS = {
    "en": ("Automated, not yet reviewed.", "Good enough by the rule of"),
    "de": ("Automatisch erstellt, noch nicht gesichtet.", "Ausreichend nach der Regel von"),
    "fr": ("Établi automatiquement, pas encore relu.", "Suffisant selon la règle de"),
}


def made(language: str, **filing: object):  # type: ignore[no-untyped-def]
    first, *rest = readings_over()
    recording = a_recording((replace(first, kind=Kind.FITTING), *rest))
    summary = told(a_summary(recording), LANGUAGES[language])
    return compose(
        recording,
        summary,
        a_filing(readings="all", **filing),
        identity_of(recording),
        all_codes(),
        international(),
        NOW,
        PAGE,
        SOFTWARE,
        LANGUAGES[language],
    )


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_conclusion_narrative_and_attachment_are_in_the_language_and_say_so(language: str) -> None:
    resources = made(language)
    assert check(resources, all_codes()) == ()
    (report,) = bodies(resources, "DiagnosticReport")
    first, second, *_ = report["conclusion"].split("\n")
    assert first == BEGINS[language][0]
    assert second.startswith(BEGINS[language][1])
    assert report["language"] == language
    assert f'xml:lang="{language}" lang="{language}"' in report["text"]["div"]
    assert BEGINS[language][1] in report["text"]["div"]
    assert report["presentedForm"][0]["language"] == language


def test_the_document_says_its_language_too() -> None:
    (document,) = bodies(made("fr", report=ReportChoice.DOCUMENT_REFERENCE), "DocumentReference")
    assert document["language"] == document["content"][0]["attachment"]["language"] == "fr"
    assert document["description"] == "Mesure ambulatoire de la pression artérielle"


def test_notes_follow_and_every_code_stays() -> None:
    english, german = made("en"), made("de")
    assert "Beim Anlegen des Geräts gemessen." in str([body.get("note") for body in bodies(german, "Observation")])
    for one, other in zip(bodies(english, "Observation"), bodies(german, "Observation"), strict=True):
        assert one["code"] == other["code"]
        assert [part["code"] for part in one["component"]] == [part["code"] for part in other["component"]]
        values = [[part.get("valueQuantity") for part in body["component"]] for body in (one, other)]
        assert values[0] == values[1]
    assert "Good enough" not in str(bodies(german, "DiagnosticReport"))
