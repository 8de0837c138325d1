"""TLS: what we accept, what we show, and in plain words why a handshake failed."""

import ssl
from collections.abc import Callable, Iterator
from typing import Any

from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.util.ssl_ import create_urllib3_context

from gateway.deliver.secret import read_secret
from gateway.deliver.stopped import Stopped, for_it
from gateway.settings.destination import Destination

LOWEST = ssl.TLSVersion.TLSv1_2
"""TLS 1.0 and 1.1 are not to be used (RFC 8996)."""
VERIFY = {
    9: "the server's certificate is not valid yet (look at the clock of this machine)",
    10: "a certificate of the server has expired",
    18: "the server's certificate is signed by nobody but itself (see ca_file in the settings)",
    19: "the server's certificate comes from an authority that is not trusted (see ca_file in the settings)",
    20: "the server's certificate comes from an authority that is not trusted, or it does not send the certificates "
    "in between (see ca_file in the settings)",
    21: "the server's certificate comes from an authority that is not trusted, or it does not send the certificates "
    "in between (see ca_file in the settings)",
    23: "the server's certificate was revoked",
    62: "the server's certificate is for another host name",
    64: "the server's certificate is for another address",
}
"""verify_code of OpenSSL (X509_V_ERR_…) in plain words"""
OUR_CERTIFICATE = {
    "SSLV3_ALERT_CERTIFICATE_EXPIRED": "the server says that our certificate has expired",
    "SSLV3_ALERT_CERTIFICATE_REVOKED": "the server says that our certificate was revoked",
    "TLSV1_ALERT_UNKNOWN_CA": "the server does not trust the authority of our certificate",
    "SSLV3_ALERT_BAD_CERTIFICATE": "the server does not accept our certificate",
    "SSLV3_ALERT_UNSUPPORTED_CERTIFICATE": "the server does not accept our kind of certificate",
    "SSLV3_ALERT_CERTIFICATE_UNKNOWN": "the server does not accept our certificate",
    "TLSV1_ALERT_DECRYPT_ERROR": "the server does not accept our certificate",
    "TLSV1_ALERT_ACCESS_DENIED": "the server does not let our certificate in",
    "TLSV13_ALERT_CERTIFICATE_REQUIRED": "the server wants a client certificate (certificate_file in the settings)",
}
"""Alerts of TLS (RFC 8446, 6.2) that are about us, as OpenSSL calls them."""
PROTOCOL = {
    "UNSUPPORTED_PROTOCOL": "the server speaks only an outdated TLS; needed is 1.2",
    "TLSV1_ALERT_PROTOCOL_VERSION": "the server speaks only an outdated TLS; needed is 1.2",
    "WRONG_SSL_VERSION": "the server speaks only an outdated TLS; needed is 1.2",
    "WRONG_VERSION_NUMBER": "the server speaks no TLS at this address",
    "SSLV3_ALERT_HANDSHAKE_FAILURE": "the server ended the handshake: it wants a client certificate, or shares no "
    "encryption with us",
}
Chain = tuple[bytes, ...]
"""certificates (DER), the server's own first"""


def context_for(destination: Destination) -> ssl.SSLContext:
    """What we accept and show. Raises Stopped where our own certificate or its key cannot be used."""
    context = create_urllib3_context(ssl_minimum_version=LOWEST)
    certificate, key = destination.certificate_file, destination.certificate_key_file
    if certificate is None or key is None:
        return context
    read_secret(key)  # for its rights
    try:
        context.load_cert_chain(certificate, key, password="")  # an encrypted key is refused, never asked about
    except (OSError, ValueError, TypeError):
        words = f"{certificate} and {key} are no certificate with its private key (PEM, not encrypted)"
        raise Stopped(for_it(words)) from None
    return context


class Adapter(HTTPAdapter):
    """Connections with our context; `seen` gets the certificates of every server that was trusted."""

    def __init__(self, context: ssl.SSLContext, seen: Callable[[Chain], None]) -> None:
        self._context = context
        self._pools = {"http": HTTPConnectionPool, "https": _watched(seen)}
        super().__init__(max_retries=0)  # the outbox schedules, with the answer in hand

    def init_poolmanager(self, *args: Any, **named: Any) -> None:
        """As the library does, with our context."""
        super().init_poolmanager(*args, **named, ssl_context=self._context)
        self.poolmanager.pool_classes_by_scheme = self._pools

    def proxy_manager_for(self, proxy: str, **named: Any) -> Any:
        """As the library does, with our context."""
        manager = super().proxy_manager_for(proxy, **named, ssl_context=self._context)
        manager.pool_classes_by_scheme = self._pools
        return manager


def _watched(seen: Callable[[Chain], None]) -> type[HTTPSConnectionPool]:
    class Connection(HTTPSConnection):
        def connect(self) -> None:
            super().connect()
            seen(chain_of(self.sock))

    class Pool(HTTPSConnectionPool):
        ConnectionCls = Connection

    return Pool


def chain_of(sock: Any) -> Chain:
    """The certificates of a TLS connection; only the server's own where this Python shows no more."""
    inner = getattr(sock, "_sslobj", None)  # its methods are public from Python 3.13 on
    for name in ("get_verified_chain", "get_unverified_chain"):
        for place in (sock, inner):
            ask = getattr(place, name, None)
            if ask is not None and (chain := ask()):
                return tuple(each if isinstance(each, bytes) else each.public_bytes(2) for each in chain)
    own = sock.getpeercert(True) if hasattr(sock, "getpeercert") else None
    return (own,) if own else ()


def why_untrusted(error: BaseException) -> tuple[bool, str]:
    """Is it about our own certificate, and why, in plain words ("" where nothing more is known)."""
    for cause in _causes(error):
        if isinstance(cause, ssl.SSLCertVerificationError) and cause.verify_code in VERIFY:
            return False, VERIFY[cause.verify_code]
        if isinstance(cause, ssl.SSLError) and cause.reason:
            words = OUR_CERTIFICATE.get(cause.reason) or PROTOCOL.get(cause.reason, "")
            if words:
                return cause.reason in OUR_CERTIFICATE, words
    return False, ""


def _causes(error: BaseException) -> Iterator[BaseException]:
    """The error and what lies beneath it, as the libraries wrap it."""
    waiting, known = [error], set[int]()
    while waiting:
        cause = waiting.pop(0)
        if id(cause) in known:
            continue
        known.add(id(cause))
        yield cause
        beneath = (*cause.args, getattr(cause, "reason", None), cause.__cause__, cause.__context__)
        waiting += [each for each in beneath if isinstance(each, BaseException)]
