"""How long certificates are still good: our own, and those of the server. Pure but for reading our own file."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain, repeat

from cryptography import x509
from cryptography.x509.oid import NameOID

from gateway.settings.destination import Destination

AHEAD = timedelta(days=30)
"""Long enough to order a new certificate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """One certificate: what it is, and until when it is good."""

    what: str
    until: datetime

    def ageing(self, now: datetime) -> bool:
        """Does it end within 30 days, or has it ended?"""
        return self.until - now <= AHEAD

    def said(self, now: datetime) -> str:
        """In plain words, with the date."""
        days = (self.until - now).days
        if self.until <= now:
            return f"{self.what} ran out on {self.until:%Y-%m-%d}"
        return f"{self.what} is good until {self.until:%Y-%m-%d} ({days} more day{'s' if days != 1 else ''})"


def of_server(shown: Iterable[bytes]) -> tuple[Validity, ...]:
    """The server's certificates (DER), its own first; what cannot be read is left out."""
    names = chain_names("the server's certificate")
    return tuple(found for what, each in zip(names, shown, strict=False) if (found := _read(what, each)))


def of_ours(destination: Destination) -> tuple[Validity, ...]:
    """Our own certificates of the file, the client's first; nothing where none is set up or it cannot be read."""
    if destination.certificate_file is None:
        return ()
    try:
        held = x509.load_pem_x509_certificates(destination.certificate_file.read_bytes())
    except (OSError, ValueError):
        return ()
    names = chain_names(f"our certificate {destination.certificate_file}")
    return tuple(
        Validity(what=f"{name} ({_name(each)})", until=each.not_valid_after_utc)
        for name, each in zip(names, held, strict=False)
    )


def chain_names(first: str) -> Iterator[str]:
    """What to call the certificates of a chain."""
    return chain([first], repeat("an authority above it"))


def ageing(held: Iterable[Validity], now: datetime) -> Iterator[str]:
    """A sentence for each that must be renewed soon."""
    for each in held:
        if each.ageing(now):
            yield each.said(now)


def _read(what: str, der: bytes) -> Validity | None:
    try:
        found = x509.load_der_x509_certificate(der)
    except ValueError:
        return None
    return Validity(what=f"{what} ({_name(found)})", until=found.not_valid_after_utc)


def _name(found: x509.Certificate) -> str:
    names = found.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return str(names[0].value) if names else f"number {found.serial_number:x}"
