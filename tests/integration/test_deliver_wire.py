"""Below HTTP: answers that never end, drip, break off or lie about their length hold nobody up."""

import logging
import socket
import time
from collections.abc import Callable
from contextlib import suppress

import pytest

from gateway.deliver.silence import NoReply, Silence
from gateway.deliver.wire import Reply, Request, Wire
from gateway.settings.destination import Destination
from tests.integration.listeners import listening

pytestmark = pytest.mark.service
Play = Callable[[socket.socket], None]


def asked(play: Play, patience: float = 5, writes: bool = False, **settings: float) -> tuple[Reply | NoReply, float]:
    with listening(play) as port:
        url = f"http://127.0.0.1:{port}/fhir"
        named = {"name": "record", "url": url, "readings": "valid", "connect_timeout": 2, "read_timeout": 2}
        line = Wire(Destination.model_validate(named | settings), "test")
        began = time.monotonic()
        answer = line.send(Request(method="GET", address=url, writes=writes), began + patience)
        return answer, time.monotonic() - began


def saying(*pieces: bytes, pause: float = 0.0) -> Play:
    def play(connection: socket.socket) -> None:
        connection.recv(65536)
        for piece in pieces:
            connection.sendall(piece)
            time.sleep(pause)

    return play


def test_a_plain_answer() -> None:
    answer, _ = asked(saying(b'HTTP/1.1 200 OK\r\nContent-Length: 9\r\nETag: W/"1"\r\n\r\n{"a":1.0}'))
    assert isinstance(answer, Reply)
    assert str(answer.body["a"]) == "1.0"
    assert answer.headers["etag"] == 'W/"1"'


def test_a_chunked_answer() -> None:
    answer, _ = asked(
        saying(b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n4\r\n[1, \r\n2\r\n2]\r\n0\r\n\r\n")
    )
    assert isinstance(answer, Reply)
    assert answer.body == [1, 2]


def test_an_endless_answer() -> None:
    def flood(connection: socket.socket) -> None:
        connection.recv(65536)
        connection.sendall(b"HTTP/1.1 200 OK\r\n\r\n")
        with suppress(OSError):
            while True:
                connection.sendall(b"x" * 65536)

    answer, _ = asked(flood, patience=60)
    assert answer == NoReply(silence=Silence.TOO_LARGE, sent=True)


def test_a_dripping_answer_ends_at_the_deadline() -> None:
    head = b"HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\n"
    answer, took = asked(saying(head, *[b"x"] * 40, pause=0.2), patience=1.0)
    assert answer == NoReply(silence=Silence.TOO_LATE, sent=True)
    assert took < 3


def test_silence_ends_at_the_read_timeout() -> None:
    answer, took = asked(silent, read_timeout=0.5)
    assert answer == NoReply(silence=Silence.TOO_LATE, sent=True)
    assert took < 3


def silent(connection: socket.socket) -> None:
    connection.recv(65536)
    time.sleep(1.5)


@pytest.mark.parametrize(
    "pieces",
    [
        (),
        (b"HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\n{}",),
        (b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",),
        (b"this is not HTTP\r\n\r\n",),
    ],
    ids=["nothing", "half a body", "bad chunks", "no HTTP"],
)
def test_a_broken_answer_is_no_answer(pieces: tuple[bytes, ...]) -> None:
    answer, _ = asked(saying(*pieces), writes=True)
    assert isinstance(answer, NoReply)
    assert answer.sent


def test_half_a_header_is_an_answer_that_says_nothing() -> None:
    """Python's HTTP takes it for a whole one; without a body no write believes it."""
    answer, _ = asked(saying(b"HTTP/1.1 200 OK\r\nContent-Le"))
    assert answer == Reply(status=200, headers={}, content=b"")
    assert isinstance(answer, Reply)
    assert answer.body is None


def test_addresses_are_not_logged_below_us(caplog: pytest.LogCaptureFixture) -> None:
    """An address may hold a number of a person, where a server can be searched by GET only."""
    caplog.set_level(logging.DEBUG)
    asked(saying(b"HTTP/1.1 200 OK\r\nContent-Le"))
    assert caplog.text == ""


def test_a_reset_is_no_answer() -> None:
    def reset(connection: socket.socket) -> None:
        connection.recv(65536)
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\x00\x00\x00\x00\x00\x00\x00")
        connection.close()

    answer, _ = asked(reset, writes=True)
    assert answer == NoReply(silence=Silence.BROKEN, sent=True)


def test_redirects_are_answers_not_journeys() -> None:
    answer, _ = asked(saying(b"HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:1/\r\nContent-Length: 0\r\n\r\n"))
    assert isinstance(answer, Reply)
    assert answer.status == 302


def test_nothing_is_sent_after_the_deadline() -> None:
    heard: list[bytes] = []
    answer, _ = asked(lambda connection: heard.append(connection.recv(10)), patience=-1)
    assert answer == NoReply(silence=Silence.TOO_LATE, sent=False)
    assert heard == []
