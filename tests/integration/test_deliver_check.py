"""`check` looks without writing, and says in words what to mend."""

import pytest

from gateway.deliver import Checked
from tests.integration.conftest import Tell
from tests.integration.proxy import (
    BATCH,
    CONDITIONAL,
    STRICT_SEARCH,
    TRANSACTION,
    UPDATE_CREATE,
    Fault,
    changed,
    say_raw,
)

pytestmark = pytest.mark.service


def bad(checks: tuple[Checked, ...]) -> dict[str, str]:
    return {item.what: item.said for item in checks if not item.good}


def said(checks: tuple[Checked, ...], what: str) -> str:
    return next(item.said for item in checks if item.what == what)


def test_a_good_server(tell: Tell) -> None:
    story = tell()
    before = story.record.writes()
    checks = story.server.check()
    assert bad(checks) == {}
    assert "asleep" in said(checks, "record: readings")
    assert "our own ids" in said(checks, "record: way of writing")
    assert said(checks, "record: does not declare") == "nothing that is made use of"
    assert "100 entries and 1000000 bytes" in said(checks, "record: limits")
    assert "none needed" in said(checks, "record: credentials")
    assert story.record.writes() == before


def test_a_poor_server_is_still_good_enough(tell: Tell) -> None:
    checks = tell(frozenset({UPDATE_CREATE, CONDITIONAL, TRANSACTION, BATCH})).server.check()
    assert bad(checks) == {}
    assert "searches first" in said(checks, "record: way of writing")
    assert "one resource at a time" in said(checks, "record: transactions")
    lacking = said(checks, "record: does not declare")
    for word in ("updateCreate for Device", "conditionalCreate for Device", "transaction"):
        assert word in lacking


def test_a_server_that_is_not_there(tell: Tell) -> None:
    checks = tell().new_server(url="http://127.0.0.1:1/fhir").check()
    assert [item.unreachable for item in checks if not item.good] == [True]


def test_an_address_that_is_no_fhir_server(tell: Tell) -> None:
    story = tell()
    story.proxy.faults.append(Fault(say_raw(200, b"<html>Welcome</html>"), method="GET", path="/fhir/metadata"))
    assert "look at url" in bad(story.server.check())["record: reached"]


def test_another_version(tell: Tell) -> None:
    story = tell()
    newer = changed(lambda body: {**body, "fhirVersion": "5.0.0"})
    story.proxy.faults.append(Fault(newer, method="GET", path="/fhir/metadata"))
    assert "4.0" in bad(story.server.check())["record: version"]


def test_a_search_that_finds_somebody_for_a_number_that_nobody_has(tell: Tell) -> None:
    story = tell(frozenset({STRICT_SEARCH}))
    everybody = changed(
        lambda body: {**body, "entry": [{"resource": {"resourceType": "Patient", "id": "x"}}], "total": 1}
    )
    story.proxy.faults.append(Fault(everybody, path="/Patient/_search"))
    assert "nothing can be filed" in bad(story.server.check())["record: search for a person"]
