"""Where a store may stand, and with which journal."""

import os
import stat
from pathlib import Path

import pytest

from gateway.errors import StoreError
from gateway.store import Store
from gateway.store.place import filesystem, journal_mode, prepare

MOUNTS = """\
/dev/sda1 / ext4 rw,relatime 0 0
server:/export /srv/share nfs4 rw,vers=4.2 0 0
//server/x /srv/with\\040space cifs rw 0 0
tmpfs /srv/share/local tmpfs rw 0 0
odd
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/var/lib/gateway", "ext4"),
        ("/srv/share", "nfs4"),
        ("/srv/share/deep/er", "nfs4"),
        ("/srv/shared", "ext4"),
        ("/srv/with space/x", "cifs"),
        ("/srv/share/local/x", "tmpfs"),
    ],
)
def test_file_system_is_that_of_the_deepest_mount(folder, kind):
    assert filesystem(Path(folder), MOUNTS) == kind


def test_unknown_mounts_tell_nothing():
    assert filesystem(Path("/x"), "") == ""


@pytest.mark.parametrize(
    ("version", "mode"),
    [
        ((3, 40, 1), "truncate"),
        ((3, 51, 2), "truncate"),
        ((3, 51, 3), "wal"),
        ((3, 52, 0), "wal"),
        ((4, 0, 0), "wal"),
    ],
)
def test_write_ahead_log_only_where_it_is_safe(version, mode):
    # SQLite release notes: the WAL-reset fault was mended in 3.51.3
    assert journal_mode(version) == mode


def test_folder_and_file_are_private_whatever_the_umask(tmp_path):
    before = os.umask(0)
    try:
        with Store.open(tmp_path / "new" / "gateway.db"):
            pass
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o700
    assert stat.S_IMODE((tmp_path / "new" / "gateway.db").stat().st_mode) == 0o600


def test_a_file_that_is_too_open_is_tightened_and_the_folder_of_others_is_not(tmp_path):
    tmp_path.chmod(0o755)
    place = tmp_path / "gateway.db"
    place.touch()
    place.chmod(0o666)
    prepare(place)
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o755


def test_a_place_that_cannot_be_made_is_told_in_plain_words(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="cannot be made or written"):
        prepare(tmp_path / "file" / "gateway.db")
