"""Who may read a secret's file: its owner alone."""

import os

import pytest

from gateway.deliver.secret import seen_by_others


def found(mode: int, owner: int, group: int) -> os.stat_result:
    return os.stat_result((0o100000 | mode, 1, 1, 1, owner, group, 1, 0, 0, 0))


@pytest.mark.parametrize(
    ("mode", "owner", "group", "seen"),
    [
        (0o600, 998, 998, False),
        (0o400, 998, 998, False),
        (0o440, 998, 998, True),
        (0o640, 998, 998, True),
        (0o604, 998, 998, True),
        (0o620, 998, 998, True),
        (0o440, 0, 0, False),  # systemd.exec(5), LoadCredential=: root's, with an access list for the service
        (0o440, 0, 998, True),
        (0o640, 0, 0, True),
        (0o444, 0, 0, True),
    ],
)
def test_only_the_owner_may_read_it(mode: int, owner: int, group: int, seen: bool) -> None:
    assert seen_by_others(found(mode, owner, group)) is seen
