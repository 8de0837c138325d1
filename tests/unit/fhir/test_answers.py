"""Capability statements, read with care."""

import pytest

from gateway.fhir import Capabilities, capabilities

STATEMENT = {
    "resourceType": "CapabilityStatement",
    "fhirVersion": "4.0.1",
    "software": {"name": "Some server"},
    "rest": [
        {"mode": "client"},
        {
            "mode": "server",
            "interaction": [{"code": "transaction"}],
            "resource": [
                {
                    "type": "Observation",
                    "updateCreate": True,
                    "conditionalCreate": False,
                    "interaction": [{"code": "create"}, {"code": "read"}],
                    "searchParam": [{"name": "identifier", "type": "token"}, {"name": "code"}],
                },
                {"type": "Device", "conditionalCreate": True},
            ],
        },
    ],
}


def test_what_is_declared_is_read():
    found = capabilities(STATEMENT)
    assert found is not None
    assert found.speaks_r4
    assert found.software == "Some server"
    assert (found.transaction, found.batch) == (True, False)
    assert found.update_create == {"Observation"}
    assert found.conditional_create == {"Device"}
    assert found.searches["Observation"] == {"identifier", "code"}
    assert found.interactions["Observation"] == {"create", "read"}


@pytest.mark.parametrize("body", [None, "<html>", [], {}, {"resourceType": "OperationOutcome"}])
def test_anything_else_is_none(body):
    assert capabilities(body) is None


@pytest.mark.parametrize(
    "body",
    [
        {"resourceType": "CapabilityStatement"},
        {"resourceType": "CapabilityStatement", "rest": "no"},
        {"resourceType": "CapabilityStatement", "rest": [None, {"mode": "server", "resource": [{"type": 7}, 3]}]},
        {"resourceType": "CapabilityStatement", "software": [], "rest": [{"mode": "server", "interaction": {}}]},
    ],
)
def test_odd_statements_declare_nothing(body):
    found = capabilities(body)
    assert found is not None
    assert not found.transaction
    assert not found.update_create
    assert not found.speaks_r4


@pytest.mark.parametrize(("version", "speaks"), [("4.0.1", True), ("4.0.0", True), ("4.0", True), ("4.3.0", False)])
def test_only_4_0_is_spoken(version, speaks):
    assert Capabilities(fhir_version=version).speaks_r4 is speaks


def test_an_update_create_that_is_only_a_word_is_no_yes():
    statement = {
        "resourceType": "CapabilityStatement",
        "rest": [{"mode": "server", "resource": [{"type": "Observation", "updateCreate": "true"}]}],
    }
    found = capabilities(statement)
    assert found is not None
    assert found.update_create == frozenset()
