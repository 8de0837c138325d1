"""The inbox with real files, real events and real time. Each test is one way in which pick-up goes wrong in practice;
the public reports that describe it are named beside it."""

import os
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from gateway.watch import Arrival, Inbox, put_away, take

ROWS = [f"2026-03-03T{9 + row // 3:02}:{row % 3 * 20:02},142,88\n" for row in range(70)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    (tmp_path / "done").mkdir()
    return inbox


class Clerk(threading.Thread):
    """Takes files from the inbox as the service does, until told to stop or until `enough` were taken."""

    def __init__(self, inbox: Inbox, folder: Path, enough: int | None = None) -> None:
        super().__init__(daemon=True)
        self.inbox, self.folder, self.enough = inbox, folder, enough
        self.stop = threading.Event()
        self.taken: list[tuple[str, bytes, float]] = []

    def run(self) -> None:
        while not self.stop.is_set() and (self.enough is None or len(self.taken) < self.enough):
            for arrival in self.inbox.settled(time.monotonic()):
                self._take(arrival)
            self.inbox.wait(0.5, self.stop)

    def _take(self, arrival: Arrival) -> None:
        content = take(arrival, most_bytes=10_000_000)
        if isinstance(content, bytes):
            self.taken.append((arrival.path.name, content, time.monotonic()))
            put_away(arrival, self.folder.parent / "done", arrival.path.name)

    @property
    def names(self) -> list[str]:
        return [name for name, _, _ in self.taken]

    def finish(self, within: float) -> None:
        self.join(within)
        self.stop.set()
        self.join(5)


@contextmanager
def working(
    folder: Path, enough: int | None = None, quiet: float = 3.0, sweep_every: float = 60.0, use_events: bool = True
) -> Iterator[Clerk]:
    with Inbox(folder, quiet, sweep_every, use_events) as inbox:
        clerk = Clerk(inbox, folder, enough)
        clerk.start()
        time.sleep(0.3)  # the observer must be up before anything is dropped
        yield clerk
        clerk.stop.set()
        clerk.join(5)


@pytest.mark.parametrize("use_events", [True, False])
def test_a_half_written_file_is_not_taken(folder: Path, use_events: bool) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/586, /787"""
    with working(folder, enough=1, sweep_every=60.0 if use_events else 1.0, use_events=use_events) as clerk:
        with (folder / "a.csv").open("w") as file:
            file.writelines(ROWS[:12])
            file.flush()
            time.sleep(2)
            assert clerk.taken == []
            file.writelines(ROWS[12:])
        clerk.finish(within=8)
        assert [content.decode() for _, content, _ in clerk.taken] == ["".join(ROWS)]


def test_a_file_whose_writer_died_is_taken_as_it_is(folder: Path) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/586"""
    with working(folder, enough=1) as clerk:
        with (folder / "a.csv").open("w") as file:
            file.writelines(ROWS[:12])
        clerk.finish(within=8)
        assert [content.decode() for _, content, _ in clerk.taken] == ["".join(ROWS[:12])]


@pytest.mark.parametrize("reopened", [True, False])
def test_chunks_make_one_arrival(folder: Path, reopened: bool) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/309; chunks a second apart, with the file kept open or not"""
    with working(folder) as clerk:
        path = folder / "a.csv"
        file = path.open("a")
        for chunk in range(6):
            if reopened:
                file.close()
                file = path.open("a")
            file.writelines(ROWS[chunk * 10 : chunk * 10 + 10])
            file.flush()
            time.sleep(1)
        file.close()
        clerk.finish(within=4)
        assert [content.decode() for _, content, _ in clerk.taken] == ["".join(ROWS[:60])]


def test_a_rename_into_place_is_taken_once_and_at_once(folder: Path) -> None:
    """https://github.com/angelolab/toffy/pull/359, https://github.com/jfernandez/mdserve/pull/40"""
    with working(folder, enough=1, quiet=30.0) as clerk:
        (folder / "day1.csv.part").write_text("".join(ROWS))
        time.sleep(1)
        assert clerk.taken == []
        renamed = time.monotonic()
        (folder / "day1.csv.part").rename(folder / "day1.csv")
        clerk.finish(within=5)
        assert clerk.names == ["day1.csv"]
        assert clerk.taken[0][2] - renamed < 2


def test_a_file_moved_in_with_an_old_time_is_taken(folder: Path) -> None:
    """https://github.com/siteboon/claudecodeui/issues/1021: novelty is never a matter of the file's own time"""
    elsewhere = folder.parent / "b.csv"
    elsewhere.write_text("".join(ROWS))
    month_ago = time.time() - 30 * 86400
    os.utime(elsewhere, (month_ago, month_ago))
    with working(folder, enough=2, quiet=30.0) as clerk:
        elsewhere.rename(folder / "b.csv")
        time.sleep(1)
        (folder.parent / "c.csv").write_text("x")
        os.utime(folder.parent / "c.csv", (month_ago, month_ago))
        shutil.copy2(folder.parent / "c.csv", folder / "c.csv")
        clerk.finish(within=8)
        assert clerk.names == ["b.csv", "c.csv"]


def test_without_any_event_the_sweep_finds_the_file(folder: Path) -> None:
    """https://github.com/home-assistant/core/issues/76397: shares send no events"""
    with working(folder, enough=1, quiet=1.0, sweep_every=1.0, use_events=False) as clerk:
        (folder / "a.csv").write_text("x")
        clerk.finish(within=6)
        assert clerk.names == ["a.csv"]
        health = clerk.inbox.health()
        assert not health.events
        age = health.age(time.monotonic())
        assert age is not None and age < 6


def test_files_waiting_at_the_start_are_taken_oldest_first(folder: Path) -> None:
    """https://github.com/docspell/dsc/issues/46, https://github.com/samuelcolvin/watchfiles/issues/139"""
    for age, name in ((30, "c.csv"), (20, "a.csv"), (10, "b.csv")):
        (folder / name).write_text(name)
        os.utime(folder / name, (time.time() - age, time.time() - age))
    with working(folder, enough=3, quiet=1.0) as clerk:
        clerk.finish(within=6)
        assert clerk.names == ["c.csv", "a.csv", "b.csv"]


def test_fifteen_hundred_files_at_once(folder: Path) -> None:
    """https://github.com/gorakhargosh/watchdog/issues/825: the event buffer runs over"""
    with working(folder, enough=1500, quiet=2.0, sweep_every=2.0) as clerk:
        for number in range(1500):
            (folder / f"{number:04}.csv").write_text(f"{number}\n")
        clerk.finish(within=40)
        assert sorted(clerk.names) == [f"{number:04}.csv" for number in range(1500)]
        assert len(list((folder.parent / "done").iterdir())) == 1500
        assert list(folder.iterdir()) == []


def test_a_folder_removed_and_made_anew_is_observed_again(folder: Path) -> None:
    """Both kinds of observer end without a word when their folder goes."""
    with working(folder, enough=1, quiet=30.0, sweep_every=0.5) as clerk:
        folder.rmdir()
        time.sleep(1.5)
        assert clerk.inbox.health().alarm
        folder.mkdir()
        time.sleep(1.5)
        assert clerk.inbox.health().alarm == ""
        (folder / "a.csv").write_text("x")
        clerk.finish(within=6)
        assert clerk.names == ["a.csv"], "an event must have told; the quiet time is far longer"
        health = clerk.inbox.health()
        assert health.events and health.restarts >= 1


def test_a_share_that_is_no_longer_mounted_is_an_alarm_and_what_lies_there_is_not_taken(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Under a mount point lies an ordinary, usually empty folder. Mounting needs root, so only its sign is set."""
    mounted = True
    monkeypatch.setattr(os.path, "ismount", lambda path: mounted)
    with Inbox(folder, quiet=0.0, sweep_every=0.1) as inbox:
        assert inbox.settled(1.0) == ()
        assert inbox.health().alarm == ""
        (folder / "stray.csv").write_text("x")
        mounted = False
        assert inbox.settled(2.0) == ()
        assert "no longer mounted" in inbox.health().alarm
        mounted = True
        assert [arrival.path.name for arrival in inbox.settled(3.0)] == ["stray.csv"]
        assert inbox.health().alarm == ""


def test_a_file_that_cannot_be_moved_is_offered_again_and_not_in_a_tight_loop(folder: Path) -> None:
    (folder / "a.csv").write_text("x")
    with Inbox(folder, quiet=0.2, sweep_every=1.0) as inbox:
        offered, until = 0, time.monotonic() + 3.5
        while time.monotonic() < until:
            offered += len(inbox.settled(time.monotonic()))
            inbox.wait(0.1, threading.Event())
        assert 3 <= offered <= 4


def test_nothing_waits_once_everything_was_handed_out(folder: Path) -> None:
    with Inbox(folder, quiet=0.0) as inbox:
        (folder / "a.csv").write_text("x")
        (arrival,) = inbox.settled(time.monotonic())
        put_away(arrival, folder.parent / "done", "a.csv")
        assert inbox.health().waiting == 0
        (folder / "b.csv").write_text("x")
    with Inbox(folder, quiet=30.0) as inbox:
        assert inbox.settled(time.monotonic()) == ()
        assert inbox.health().waiting == 1


def test_stopping_ends_the_waiting(folder: Path) -> None:
    stop = threading.Event()
    with Inbox(folder) as inbox:
        threading.Timer(0.3, stop.set).start()
        begun = time.monotonic()
        inbox.wait(30, stop)
        assert time.monotonic() - begun < 2


def test_links_out_of_the_folder_are_refused_and_counted(folder: Path) -> None:
    secret = folder.parent / "secret.csv"
    secret.write_text("x")
    (folder / "link.csv").symlink_to(secret)
    with Inbox(folder, quiet=0.0) as inbox:
        assert inbox.settled(time.monotonic()) == ()
        assert inbox.health().refused == 1
    assert secret.exists()


def test_a_folder_that_goes_just_after_an_event_is_waited_for_in_peace(folder: Path) -> None:
    with Inbox(folder, quiet=30.0, sweep_every=60.0) as inbox:
        assert inbox.settled(time.monotonic()) == ()
        (folder / "a.csv").write_text("x")
        time.sleep(0.5)  # the event has come
        shutil.rmtree(folder)
        assert inbox.settled(time.monotonic()) == ()
        assert inbox.health().alarm
        begun = time.monotonic()
        inbox.wait(0.6, threading.Event())
        assert time.monotonic() - begun >= 0.5


def test_what_events_told_before_the_folder_went_says_nothing_about_the_files_of_the_next(folder: Path) -> None:
    with Inbox(folder, quiet=30.0, sweep_every=60.0) as inbox:
        assert inbox.settled(1.0) == ()
        (folder / "a.csv").write_text("x")
        time.sleep(0.5)
        folder.rename(folder.parent / "gone")
        assert inbox.settled(2.0) == ()
        assert inbox.health().alarm
        (folder.parent / "next").mkdir()
        (folder.parent / "next" / "a.csv").write_text("half")
        (folder.parent / "next").rename(folder)
        assert inbox.settled(3.0) == ()
        assert inbox.settled(5.0) == (), "no event told that this file is finished"
        assert inbox.health().waiting == 1
