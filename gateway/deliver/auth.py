"""How we show who we are."""

from typing import Protocol

from gateway.deliver.secret import read_secret
from gateway.deliver.signing import SignedKey
from gateway.deliver.stopped import Stopped, for_it
from gateway.deliver.wire import Wire
from gateway.settings.destination import BearerAuth, Destination, NoAuth


class Credentials(Protocol):
    """Header values for a request, and new ones after a refusal."""

    def header(self, deadline: float) -> str | None:
        """Value of Authorization, None for none. Raises Stopped."""

    def refused(self) -> bool:
        """The server did not accept the last header; is there any point in asking once more?"""


class Nobody:
    """A server on this machine that asks for nothing."""

    def header(self, deadline: float) -> str | None:  # noqa: ARG002
        """No header."""
        return None

    def refused(self) -> bool:
        """There is nothing new to show."""
        return False


class TokenFile:
    """A token that somebody else renews in its file."""

    def __init__(self, auth: BearerAuth) -> None:
        self._path = auth.token_file
        self._token: str | None = None

    def header(self, deadline: float) -> str | None:  # noqa: ARG002
        """Bearer header with the token last read."""
        token = self._token or read_secret(self._path).decode("ascii", "replace").strip()
        if not token.isascii() or any(letter.isspace() for letter in token) or not token:
            raise Stopped(for_it(f"the token file {self._path} does not hold one token"))
        self._token = token
        return f"Bearer {token}"

    def refused(self) -> bool:
        """Read the file again next time; it helps if it was renewed meanwhile."""
        self._token = None
        return True


def credentials(destination: Destination, wire: Wire) -> Credentials:
    """The way in that the settings name."""
    auth = destination.auth
    if isinstance(auth, NoAuth):
        return Nobody()
    if isinstance(auth, BearerAuth):
        return TokenFile(auth)
    return SignedKey(auth, destination.url, wire)
