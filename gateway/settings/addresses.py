"""What is accepted as the address of a server."""

import ipaddress
from urllib.parse import urlsplit


def safe_address(value: str) -> str:
    """The address without a trailing slash. Raises ValueError, in words that say what to write instead."""
    try:
        parts = urlsplit(value)
        host, _ = parts.hostname, parts.port
    except ValueError:
        raise ValueError("this is not an address; write https://host/path") from None
    if parts.scheme not in ("https", "http") or not host:
        raise ValueError("write the whole address, beginning with https://")
    if parts.username or parts.password:
        raise ValueError("leave user name and password out of the address; credentials belong into auth")
    if parts.query or parts.fragment:
        raise ValueError("leave out everything from ? or # on; write the base address of the server")
    if parts.scheme == "http" and not on_this_machine(value):
        raise ValueError(
            "write https:// instead of http://; unencrypted http is only for a server on this machine (127.0.0.1)"
        )
    return value.rstrip("/")


def on_this_machine(url: str) -> bool:
    """Is this the address of the very machine we run on (loopback)?"""
    host = urlsplit(url).hostname or ""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
