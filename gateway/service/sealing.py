"""The key of the audit log's signed heads, and the file outside the store where they are kept."""

import contextlib
import os
import stat
import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from gateway.audit import Verification, fingerprint, verify
from gateway.errors import StoreError
from gateway.store import Store, outside_heads

KEY_FILE = "audit-key.pem"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealing:
    """Signs the log's end. `outside` None: nothing is written outside the store, and a cut end cannot be seen."""

    key: Ed25519PrivateKey
    outside: Path | None

    def seal(self, store: Store, now: datetime) -> None:
        """Put a signed head of the log as it is now into the file outside the store, unless it is there already."""
        if self.outside is not None:
            store.anchor(self.outside, self.key, now)

    def same_key_everywhere(self, store: Store) -> None:
        """All nodes sign the one log with one key, or nobody could prove it. Raises StoreError for another key."""
        mine = fingerprint(self.key.public_key())
        if (first := store.signer(mine)) != mine:
            raise StoreError(
                f"the nodes of this store sign the audit log with the key {first}, this one has the key {mine}: copy "
                f"{KEY_FILE} from the state folder of another node into this one's (mode 600), and start again"
            )

    def verification(self, store: Store, outside: Path | None = None) -> Verification:
        """Walk the whole log beside its heads. Raises StoreError when the file of heads cannot be read."""
        place = outside or self.outside
        inside = store.heads()
        heads = outside_heads(place) if place is not None and (outside or place.exists()) else None
        return verify(store.audit_entries(), heads, self.key.public_key(), inside)


def signing_key(state: Path) -> Ed25519PrivateKey:
    """The store's signing key, made on first use (mode 0600). Raises StoreError when it cannot be relied on."""
    path = state / KEY_FILE
    if not state.is_dir():
        raise StoreError(f"{state}: there is no store yet; start the service first")
    if not path.exists():
        _make(path)
    if stat.S_IMODE(path.stat().st_mode) & 0o077:
        raise StoreError(f"{path}: others can read this key; write `chmod 600 {path}`")
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except ValueError:
        raise StoreError(f"{path}: is no key; restore it from a back-up") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise StoreError(f"{path}: is no Ed25519 key; restore it from a back-up")
    return key


def _make(path: Path) -> None:
    """A new key, complete before it gets its name: neither a power cut nor a race leaves half of one."""
    fresh = Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    descriptor, temporary = tempfile.mkstemp(dir=path.parent)  # mode 0600
    with os.fdopen(descriptor, "wb") as file:
        file.write(fresh)
        file.flush()
        os.fsync(file.fileno())
    with contextlib.suppress(FileExistsError):
        os.link(temporary, path)
    Path(temporary).unlink()
