"""A server of the tests on a port of its own, there as long as its block."""

import ssl
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Self


class Listening:
    """Answers with `handler`, over TLS where `tls` is given. `root` is its address without a path."""

    def __init__(self, handler: type[BaseHTTPRequestHandler], tls: ssl.SSLContext | None = None) -> None:
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self._server.daemon_threads = True
        if tls:  # the handshake belongs to the thread of the connection
            self._server.socket = tls.wrap_socket(self._server.socket, True, do_handshake_on_connect=False)
            self._server.handle_error = lambda *_: None  # type: ignore[method-assign]  # handshakes fail on purpose
        self.root = f"{'https' if tls else 'http'}://127.0.0.1:{self._server.server_port}"
        self._thread = Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()
