"""Where the store may lie: SQLite is for one gateway."""

import pytest
from pydantic import ValidationError

from gateway.settings.storage import StoreChoice

NEAR = "postgresql://gateway@127.0.0.1:5432/recordings"


def test_sqlite_is_for_one_node() -> None:
    assert StoreChoice().nodes == 1
    with pytest.raises(ValidationError) as caught:
        StoreChoice(nodes=3)
    for word in ("SQLite serves one gateway only", "postgresql://", "store move", "nodes = 1"):
        assert word in str(caught.value)
    assert StoreChoice(nodes=3, url=NEAR).nodes == 3


def test_a_database_on_another_machine_is_verified() -> None:
    with pytest.raises(ValidationError, match="ca_file"):
        StoreChoice(url="postgresql://gateway@database.example:5432/recordings")
