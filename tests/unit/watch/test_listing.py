"""What counts as an export in the inbox, with real files."""

import os
import socket
from pathlib import Path

import pytest

from gateway.watch.listing import is_temporary, look


@pytest.mark.parametrize(
    "name",
    [".hidden", ".~lock.a.csv#", "~$a.xlsx", "a.csv.part", "A.CSV.TMP", "a.csv~", "a.crdownload", "a.filepart"],
)
def test_names_that_are_still_being_written(name: str) -> None:
    assert is_temporary(name)


@pytest.mark.parametrize("name", ["a.csv", "part.csv", "tmp.xml", "a~1.csv", "Übung 1.txt", "a"])
def test_names_of_finished_files(name: str) -> None:
    assert not is_temporary(name)


def test_only_regular_files_of_the_folder_itself_are_listed(tmp_path: Path) -> None:
    inbox = tmp_path / "inbox"
    (inbox / "below").mkdir(parents=True)
    (inbox / "below" / "deep.csv").write_text("x")
    (inbox / "a.csv").write_text("abc")
    (inbox / "a.csv.part").write_text("abc")
    outside = tmp_path / "outside.csv"
    outside.write_text("secret")
    (inbox / "link.csv").symlink_to(outside)
    (inbox / "dangling.csv").symlink_to(tmp_path / "nothing")
    (inbox / "folder-link").symlink_to(tmp_path)
    os.mkfifo(inbox / "pipe.csv")
    with socket.socket(socket.AF_UNIX) as ours:
        ours.bind(str(inbox / "s.csv"))
        listing = look(inbox)
    assert {name: mark.size for name, mark in listing.files.items()} == {"a.csv": 3}
    assert listing.refused == ("dangling.csv", "folder-link", "link.csv", "pipe.csv", "s.csv")
    assert listing.ignored == 2


def test_a_folder_that_is_not_there_is_not_an_empty_folder(tmp_path: Path) -> None:
    with pytest.raises(OSError):
        look(tmp_path / "inbox")
