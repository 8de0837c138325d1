"""Both record servers that are not ours, for every story that is told here."""

from collections.abc import Iterator

import pytest
from scenario.record import RecordServer

from tests.conformance.server.second import SecondServer
from tests.integration.conftest import tell

__all__ = ["tell"]
SERVERS = {"first": RecordServer, "second": SecondServer}


@pytest.fixture(scope="session", params=SERVERS)
def record(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    with SERVERS[request.param](tmp_path_factory.mktemp(request.param)) as server:
        yield server
