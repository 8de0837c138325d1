"""Why no usable answer came: the failures of a network, told apart."""

from dataclasses import dataclass, field
from enum import StrEnum

import requests
from urllib3.exceptions import ConnectTimeoutError, NameResolutionError, NewConnectionError

from gateway.deliver.stopped import Stopped
from gateway.deliver.trust import why_untrusted
from gateway.model import TryLater

UNSAFE = "this address is not safe to ask: without encryption, or this very machine through a proxy"


class Silence(StrEnum):
    """Why no answer came."""

    UNREACHABLE = "unreachable"
    UNTRUSTED = "untrusted"
    OURS = "ours"
    BROKEN = "broken"
    TOO_LATE = "too-late"
    TOO_LARGE = "too-large"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoReply:
    """No usable answer. `sent`: the request may have reached the server, so something may have been stored."""

    silence: Silence
    sent: bool
    detail: str = field(default="", compare=False)
    """more exact words for IT, "" for the usual ones"""


def silence_of(error: Exception, writes: bool) -> NoReply:
    """What a failed request means. Raises the error again where it is none of the network's."""
    match error:
        case Stopped():
            words = error.answer.why if isinstance(error.answer, TryLater) else ""
            return NoReply(silence=Silence.OURS, sent=False, detail=words)
        case requests.exceptions.ReadTimeout():
            return NoReply(silence=Silence.TOO_LATE, sent=True)
        case requests.exceptions.ConnectTimeout() | requests.exceptions.ProxyError():
            return NoReply(silence=Silence.UNREACHABLE, sent=False)
    ours, words = why_untrusted(error)
    if ours:  # the handshake failed, so nothing was read
        return NoReply(silence=Silence.OURS, sent=False, detail=words)
    if words or isinstance(error, requests.exceptions.SSLError):
        return NoReply(silence=Silence.UNTRUSTED, sent=writes, detail=words)
    if isinstance(error, requests.exceptions.ConnectionError) and _never_connected(error):
        return NoReply(silence=Silence.UNREACHABLE, sent=False)
    if type(error) is OSError or isinstance(error, FileNotFoundError | PermissionError):
        return NoReply(silence=Silence.UNTRUSTED, sent=False)  # the CA file is not there or no CA file
    return NoReply(silence=Silence.BROKEN, sent=True)


def _never_connected(error: requests.exceptions.ConnectionError) -> bool:
    reason = getattr(error.args[0], "reason", None) if error.args else None
    return isinstance(reason, NewConnectionError | NameResolutionError | ConnectTimeoutError)
