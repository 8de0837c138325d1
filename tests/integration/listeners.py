"""Bare listeners that misbehave below HTTP, or speak TLS as badly as real servers do."""

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from scenario.record import Tls


def said(status: int, content: bytes = b"", **headers: str) -> bytes:
    """An answer as it goes over the wire; the connection ends with it."""
    named = "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in headers.items())
    head = f"HTTP/1.1 {status} Said\r\nContent-Length: {len(content)}\r\nConnection: close\r\n{named}\r\n"
    return head.encode() + content


def as_usual(context: ssl.SSLContext) -> None:
    """Nothing special about the TLS of this listener."""


@contextmanager
def serving(
    tls: Tls, shaped: Callable[[ssl.SSLContext], None] = as_usual, answer: bytes = said(204)
) -> Iterator[int]:
    """A TLS listener with this certificate that gives every request the same answer. `shaped` changes its TLS."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tls.certificate, tls.key)
    shaped(context)

    def play(connection: socket.socket) -> None:
        with context.wrap_socket(connection, True, do_handshake_on_connect=False) as safe:
            try:
                safe.do_handshake()
                safe.recv(65536)
                safe.sendall(answer)
            except ssl.SSLError:  # closed with something unread, the alert would be lost on the way
                safe.shutdown(socket.SHUT_WR)
                while safe.recv(65536):
                    pass

    with listening(play) as port:
        yield port


@contextmanager
def tunnel(port: int) -> Iterator[tuple[str, list[str]]]:
    """A proxy that leads every CONNECT to `port` of this machine; its address, and where it was asked to lead."""
    asked: list[str] = []

    def play(connection: socket.socket) -> None:
        asked.append(connection.recv(65536).decode().split()[1])
        with socket.create_connection(("127.0.0.1", port)) as there:
            connection.sendall(b"HTTP/1.1 200 Connection established\r\n\r\n")
            back = threading.Thread(target=_pumped, args=(there, connection))
            back.start()
            _pumped(connection, there)
            back.join()

    with listening(play) as own:
        yield f"http://127.0.0.1:{own}", asked


def _pumped(source: socket.socket, target: socket.socket) -> None:
    with suppress(OSError):
        while piece := source.recv(65536):
            target.sendall(piece)
    with suppress(OSError):
        target.shutdown(socket.SHUT_WR)


@contextmanager
def listening(answer: Callable[[socket.socket], None]) -> Iterator[int]:
    """A listener on loopback that gives each connection to `answer`."""
    stop = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.05)

        def serve() -> None:
            while not stop.is_set():
                with suppress(TimeoutError, OSError):
                    connection, _ = server.accept()
                    connection.settimeout(10)
                    with connection, suppress(OSError):
                        answer(connection)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield server.getsockname()[1]
        finally:
            stop.set()
            thread.join()
