"""How we show who we are."""

from base64 import b64encode
from typing import Protocol

from gateway.deliver.proofs import KeyProofs, SecretProofs
from gateway.deliver.secret import one_line, read_secret
from gateway.deliver.stopped import Stopped, for_it
from gateway.deliver.tokens import Tokens
from gateway.deliver.wire import Wire
from gateway.settings.credentials import BasicAuth, BearerAuth, ClientSecretAuth, PrivateKeyAuth
from gateway.settings.destination import Destination


class Credentials(Protocol):
    """Header values for a request, and new ones after a refusal.

    `remark`: what IT should know although all is well, "" for nothing.
    """

    remark: str

    def header(self, deadline: float) -> str | None:
        """Value of Authorization, None for none. Raises Stopped."""

    def refused(self) -> bool:
        """The server did not accept the last header; is there any point in asking once more?"""


class Nobody:
    """A server on this machine that asks for nothing, or one that is content with our certificate."""

    remark = ""

    def header(self, deadline: float) -> str | None:  # noqa: ARG002
        """No header."""
        return None

    def refused(self) -> bool:
        """There is nothing new to show."""
        return False


class Password:
    """User name and password (RFC 7617), read anew for each request."""

    remark = ""

    def __init__(self, auth: BasicAuth) -> None:
        self._auth = auth

    def header(self, deadline: float) -> str | None:  # noqa: ARG002
        """Basic header with the password as it stands in its file now."""
        pair = f"{self._auth.user}:{one_line(self._auth.password_file)}"
        return f"Basic {b64encode(pair.encode()).decode()}"

    def refused(self) -> bool:
        """The file was read a moment ago; the same again could lock the account."""
        return False


class TokenFile:
    """A token that somebody else renews in its file."""

    remark = ""

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
    match auth:
        case BasicAuth():
            return Password(auth)
        case BearerAuth():
            return TokenFile(auth)
        case ClientSecretAuth():
            return Tokens(auth, SecretProofs(auth), destination.url, wire)
        case PrivateKeyAuth():
            return Tokens(auth, KeyProofs(auth), destination.url, wire)
        case _:
            return Nobody()
