"""Both record servers that are not ours, for every story that is told here, and what the run says of them."""

from collections import defaultdict
from collections.abc import Iterator

import pytest
from scenario.record import RecordServer

from gateway.deliver import Server
from gateway.settings.destination import Destination
from tests.conformance.server.recordings import LEFT_TO_THE_LEASE
from tests.conformance.server.second import SecondServer
from tests.integration.conftest import tell

__all__ = ["tell"]
SAID = ("way of writing", "transactions", "does not declare")
DECLARED: dict[str, dict[str, str]] = {}
"""what `bp-gateway check` says of each server"""


@pytest.fixture(scope="session")
def first(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RecordServer]:
    with RecordServer(tmp_path_factory.mktemp("first")) as server:
        _declared("first", server.base)
        yield server


@pytest.fixture
def second(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SecondServer]:
    """New for each story: it looks at everything that it holds for every condition, so it gets slower and slower."""
    with SecondServer(tmp_path_factory.mktemp("second")) as server:
        if "second" not in DECLARED:
            _declared("second", server.base)
        yield server


@pytest.fixture(params=["first", "second"])
def record(request: pytest.FixtureRequest) -> object:
    return request.getfixturevalue(request.param)


def _declared(name: str, base: str) -> None:
    server = Server(Destination(name=name, url=base, readings="valid"))  # type: ignore[arg-type]
    found = {each.what.removeprefix(f"{name}: "): each.said for each in server.check()}
    DECLARED[name] = {what: found[what] for what in SAID}


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Which story went well on which server in which way, and what a server lacks for a way."""
    told: dict[tuple[str, str], list[str]] = defaultdict(list)
    for outcome in ("passed", "failed", "error"):
        for report in terminalreporter.getreports(outcome):
            name, _, rest = report.nodeid.rpartition("::")[2].partition("[")
            way, _, server = rest.removesuffix("]").rpartition("-")
            if outcome != "passed" or report.when == "call":
                told[server, name].append(way if outcome == "passed" else f"{way} {outcome.upper()}")
    for way, why in LEFT_TO_THE_LEASE.items():
        terminalreporter.write_line(f"clients that share nothing left out for {way}: {why}")
    for server, declared in sorted(DECLARED.items()):
        terminalreporter.write_line(f"{server} server")
        for what, said in declared.items():
            terminalreporter.write_line(f"    {what}: {said}")
        for (one, name), ways in told.items():
            if one == server:
                said = name.removeprefix("test_").replace("_", " ")
                terminalreporter.write_line(f"    {len(ways)} ways, {said}: {'; '.join(ways)}")
