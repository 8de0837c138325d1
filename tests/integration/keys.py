"""Throw-away keys and certificates for the tests, made anew each time."""

import ipaddress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.x509.oid import NameOID
from scenario.record import Tls

Key = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey


def key_pair(folder: Path, name: str, algorithm: str = "ES384") -> tuple[Path, Path]:
    """A private key (PEM, readable by us alone) and its public key."""
    key: Key = (
        ec.generate_private_key(ec.SECP384R1())
        if algorithm == "ES384"
        else rsa.generate_private_key(public_exponent=65537, key_size=2048)
    )
    private, public = folder / f"{name}.pem", folder / f"{name}.pub.pem"
    _write_private(private, key)
    public.write_bytes(
        key.public_key().public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
    )
    return private, public


@dataclass(frozen=True)
class Authority:
    """A certificate authority of our own."""

    name: x509.Name
    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @classmethod
    def new(cls, called: str = "Example test CA", days: int = 300) -> "Authority":
        name, key = named(called), ec.generate_private_key(ec.SECP256R1())
        ca = [(x509.BasicConstraints(ca=True, path_length=1), True)]
        return cls(name, key, _signed(name, name, key, key, ca, days))

    def intermediate(self, called: str, days: int = 300) -> "Authority":
        name, key = named(called), ec.generate_private_key(ec.SECP256R1())
        ca = [(x509.BasicConstraints(ca=True, path_length=0), True)]
        return Authority(name, key, _signed(name, self.name, key, self.key, ca, days))

    def issue(self, folder: Path, called: str, host: str | None = None, days: int = 300, chain: Any = ()) -> Tls:
        """Certificate, key and authority as files; `host` for a server. `chain`: authorities sent along."""
        key = ec.generate_private_key(ec.SECP256R1())
        extensions: list[tuple[x509.ExtensionType, bool]] = []
        if host is not None:
            known = x509.IPAddress(ipaddress.ip_address(host)) if host[0].isdigit() else x509.DNSName(host)
            extensions.append((x509.SubjectAlternativeName([known]), False))
        leaf = _signed(named(called), self.name, key, self.key, extensions, days)
        folder.mkdir(parents=True, exist_ok=True)
        mark = called.replace(" ", "-")
        paths = Tls(folder / f"{mark}.pem", folder / f"{mark}.key", folder / "ca.pem")
        paths.certificate.write_bytes(b"".join(pem(each) for each in (leaf, *(up.certificate for up in chain))))
        paths.ca.write_bytes(pem(self.certificate))
        paths.key.unlink(missing_ok=True)
        _write_private(paths.key, key)
        return paths

    def revoked(self, folder: Path, tls: Tls) -> Path:
        """A list that says that this certificate was revoked, behind the authority's own certificate."""
        serial = x509.load_pem_x509_certificate(tls.certificate.read_bytes()).serial_number
        now = datetime.now(UTC)
        entry = (
            x509.RevokedCertificateBuilder().serial_number(serial).revocation_date(now - timedelta(days=1)).build()
        )
        crl = (
            x509.CertificateRevocationListBuilder()
            .issuer_name(self.name)
            .last_update(now - timedelta(days=1))
            .next_update(now + timedelta(days=1))
            .add_revoked_certificate(entry)
            .sign(self.key, hashes.SHA256())
        )
        path = folder / "revoked.pem"
        path.write_bytes(pem(self.certificate) + crl.public_bytes(serialization.Encoding.PEM))
        return path


def pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def named(called: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, called)])


def certificates(folder: Path, host: str = "127.0.0.1", days: int = 30) -> Tls:
    """A CA of our own and a certificate of that CA for `host`; `days` negative: expired."""
    return Authority.new().issue(folder, "record", host, days)


def _signed(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    ca_key: ec.EllipticCurvePrivateKey,
    extensions: list[tuple[x509.ExtensionType, bool]],
    days: int,
) -> x509.Certificate:
    now = datetime.now(UTC)
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=400))
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(ca_key.public_key()), critical=False)
    )
    for extension, critical in extensions:
        builder = builder.add_extension(extension, critical)
    return builder.sign(ca_key, hashes.SHA256())


def _write_private(path: Path, key: Key) -> None:
    path.touch(mode=0o600)
    path.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
