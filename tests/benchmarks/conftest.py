"""Figures of a benchmark beside its times: said at the end of the run, because nobody reads a table of extras."""

from collections.abc import Iterator

import pytest

SAID: dict[str, dict[str, object]] = {}


@pytest.fixture(autouse=True)
def said(request: pytest.FixtureRequest) -> Iterator[None]:
    """What a benchmark found besides its times."""
    timed = request.getfixturevalue("benchmark") if "benchmark" in request.fixturenames else None
    yield
    if timed is not None and timed.extra_info:
        SAID[request.node.name] = dict(timed.extra_info)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for name, found in SAID.items():
        told = ", ".join(f"{what.replace('_', ' ')} {value}" for what, value in found.items())
        terminalreporter.write_line(f"{name}: {told}")
