"""Reading a finished file and putting it away, with real files."""

import os
from pathlib import Path

import pytest

from gateway.watch import Arrival, Refusal, Refused, put_away, take, taking
from gateway.watch.listing import Mark


def arrival(path: Path) -> Arrival:
    mark = Mark.of(path.lstat())
    return Arrival(path=path, size=mark.size, mark=mark)


@pytest.fixture
def inbox(tmp_path: Path) -> Path:
    folder = tmp_path / "inbox"
    folder.mkdir()
    return folder


@pytest.fixture
def done(tmp_path: Path) -> Path:
    folder = tmp_path / "done"
    folder.mkdir()
    return folder


def a_file(inbox: Path, content: bytes = b"one", name: str = "a.csv") -> Path:
    path = inbox / name
    path.write_bytes(content)
    return path


def test_the_whole_content_is_taken(inbox: Path) -> None:
    assert take(arrival(a_file(inbox, b"\x00\xff\r\n" * 5000)), most_bytes=20_000) == b"\x00\xff\r\n" * 5000


def test_a_file_over_the_limit_is_not_read(inbox: Path) -> None:
    assert take(arrival(a_file(inbox, b"12345")), most_bytes=4) == Refused(Refusal.TOO_LARGE)


def test_a_file_that_changed_since_is_not_taken(inbox: Path) -> None:
    path = a_file(inbox)
    seen = arrival(path)
    path.write_bytes(b"one and two")
    assert take(seen, most_bytes=100) == Refused(Refusal.CHANGED)


def test_a_file_that_went_is_told(inbox: Path) -> None:
    path = a_file(inbox)
    seen = arrival(path)
    path.unlink()
    refused = take(seen, most_bytes=100)
    assert isinstance(refused, Refused) and refused.why is Refusal.GONE


def test_a_link_that_took_the_place_of_the_file_is_not_followed(inbox: Path, tmp_path: Path) -> None:
    secret = tmp_path / "outside.csv"
    secret.write_bytes(b"one")
    path = a_file(inbox)
    seen = arrival(path)
    path.unlink()
    path.symlink_to(secret)
    refused = take(seen, most_bytes=100)
    assert isinstance(refused, Refused) and refused.why is Refusal.NOT_A_FILE


def test_a_pipe_that_took_the_place_of_the_file_does_not_make_us_wait(inbox: Path) -> None:
    path = a_file(inbox)
    seen = arrival(path)
    path.unlink()
    os.mkfifo(path)
    assert take(seen, most_bytes=100) == Refused(Refusal.NOT_A_FILE)


def test_what_the_system_says_names_no_path(inbox: Path) -> None:
    path = a_file(inbox, name="ZZTESTNAME.csv")
    seen = arrival(path)
    path.unlink()
    assert "ZZTESTNAME" not in str(take(seen, most_bytes=100))


def test_moved_under_the_wanted_name(inbox: Path, done: Path) -> None:
    moved = put_away(a_file(inbox), done, "a.1234.csv")
    assert moved == done / "a.1234.csv"
    assert moved.read_bytes() == b"one"
    assert list(inbox.iterdir()) == []


def test_names_never_clash(inbox: Path, done: Path) -> None:
    for content in (b"one", b"two", b"three"):
        put_away(a_file(inbox, content), done, "a.csv")
    assert {path.name: path.read_bytes() for path in done.iterdir()} == {
        "a.csv": b"one",
        "a-2.csv": b"two",
        "a-3.csv": b"three",
    }


def test_long_names_keep_their_ending(inbox: Path, done: Path) -> None:
    moved = put_away(a_file(inbox), done, "ü" * 120 + ".csv")
    assert moved is not None and moved.suffix == ".csv" and len(moved.name.encode()) <= 255


@pytest.mark.parametrize(
    ("stem", "ending", "kept"),
    [(b"M\xfcller", b".csv", b"M\xfcller"), (b"\xff" * 220, b".c\xe9v", b"\xff" * 196), (b"\xfc", b"", b"\xfc")],
)
def test_names_in_another_encoding_are_kept_byte_by_byte(
    inbox: Path, done: Path, stem: bytes, ending: bytes, kept: bytes
) -> None:
    """POSIX file names are bytes; these were written by a system with one byte for each Latin letter."""
    name = os.fsdecode(stem + ending)
    for content in (b"one", b"two"):
        moved = put_away(a_file(inbox, content, name), done, name)
        assert moved is not None and moved.read_bytes() == content
    assert {os.fsencode(path.name) for path in done.iterdir()} == {kept + ending, kept + b"-2" + ending}


def test_a_long_name_is_not_cut_within_a_letter(inbox: Path, done: Path) -> None:
    moved = put_away(a_file(inbox), done, "a" + "\u00fc" * 120 + ".csv")
    assert moved is not None and moved.stem == "a" + "\u00fc" * 97  # 1 + 97 * 2 + 4 bytes


@pytest.mark.parametrize("name", ["", ".", "..", "../a.csv", "a/b.csv", "/etc/a.csv", "a\0.csv"])
def test_a_name_that_leaves_the_folder_is_refused(inbox: Path, done: Path, name: str) -> None:
    path = a_file(inbox)
    with pytest.raises(ValueError):
        put_away(path, done, name)
    assert path.exists() and list(done.iterdir()) == []


def test_another_file_under_the_same_name_stays_in_the_inbox(inbox: Path, done: Path) -> None:
    path = a_file(inbox)
    seen = arrival(path)
    path.unlink()
    a_file(inbox, b"a corrected export")
    assert put_away(seen, done, "a.csv") is None
    assert path.read_bytes() == b"a corrected export" and list(done.iterdir()) == []


def test_a_file_exchanged_in_the_very_moment_of_the_move_goes_back(
    inbox: Path, done: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = a_file(inbox)
    seen = arrival(path)
    really_reserve = taking._reserved

    def exchange_first(folder: Path, name: str) -> Path:
        if folder == done:
            path.unlink()
            a_file(inbox, b"a corrected export")
        return really_reserve(folder, name)

    monkeypatch.setattr(taking, "_reserved", exchange_first)
    assert put_away(seen, done, "a.csv") is None
    assert [file.read_bytes() for file in inbox.iterdir()] == [b"a corrected export"]
    assert list(done.iterdir()) == []


def test_across_file_systems_it_is_copied_whole_before_the_original_goes(inbox: Path) -> None:
    elsewhere = Path("/dev/shm") / f"bp-gateway-test-{os.getpid()}-{id(inbox)}"
    assert Path("/dev/shm").stat().st_dev != inbox.stat().st_dev, "this test needs /dev/shm on another file system"
    elsewhere.mkdir()
    try:
        moved = put_away(arrival(a_file(inbox, b"x" * 100_000)), elsewhere, "a.csv")
        assert moved is not None and moved.read_bytes() == b"x" * 100_000
        assert [path.name for path in elsewhere.iterdir()] == ["a.csv"]
        assert list(inbox.iterdir()) == []
    finally:
        for path in elsewhere.iterdir():
            path.unlink()
        elsewhere.rmdir()


def test_a_failed_move_leaves_nothing_behind(inbox: Path, done: Path) -> None:
    with pytest.raises(FileNotFoundError):
        put_away(inbox / "never.csv", done, "a.csv")
    assert list(done.iterdir()) == []
