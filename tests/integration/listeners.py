"""Bare listeners that misbehave below HTTP."""

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from scenario.record import Tls


@contextmanager
def serving(tls: Tls) -> Iterator[int]:
    """A TLS listener with this certificate that answers every request with 204."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tls.certificate, tls.key)

    def answer(connection: socket.socket) -> None:
        with context.wrap_socket(connection, server_side=True) as safe:
            safe.recv(65536)
            safe.sendall(b"HTTP/1.1 204 No Content\r\n\r\n")

    with listening(answer) as port:
        yield port


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
