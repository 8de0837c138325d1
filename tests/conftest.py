"""Both databases for every test of the store. And settings of the property tests: never a verdict on the machine's
speed; the same examples on every CI run.

By hand the examples are new each time, so that the search goes on; CI judges a change, not its luck.
"""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.databases import KINDS, Place, in_folder
from tests.postgres import Postgres

settings.register_profile("by-hand", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("by-hand"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "by-hand")


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """One PostgreSQL server for all tests of this process; it starts when the first one asks."""
    with Postgres() as server:
        yield server


@pytest.fixture(params=KINDS)
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Place]:
    """An empty place for a store, once for each database."""
    if request.param == "sqlite":
        yield in_folder(tmp_path)
        return
    yield request.getfixturevalue("new")


@pytest.fixture
def new(postgres: Postgres) -> Iterator[Place]:
    """An empty database on the server, for what moves there."""
    address = postgres.place()
    yield Place(address)
    postgres.drop(address)
