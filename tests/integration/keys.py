"""Throw-away keys and certificates for the tests, made anew each time."""

import ipaddress
from datetime import UTC, datetime, timedelta
from pathlib import Path

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


def certificates(folder: Path, host: str = "127.0.0.1", days: int = 30) -> Tls:
    """A CA of our own and a certificate of that CA for `host`; `days` negative: expired."""
    ca_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    ca_name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Example test CA")])
    ca = _signed(ca_name, ca_name, ca_key, ca_key, [(x509.BasicConstraints(ca=True, path_length=0), True)], 30)
    names: list[x509.GeneralName] = (
        [x509.IPAddress(ipaddress.ip_address(host))] if host[0].isdigit() else [x509.DNSName(host)]
    )
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Example record")])
    leaf = _signed(name, ca_name, key, ca_key, [(x509.SubjectAlternativeName(names), False)], days)
    folder.mkdir(parents=True, exist_ok=True)
    paths = Tls(folder / "server.pem", folder / "server.key", folder / "ca.pem")
    paths.certificate.write_bytes(leaf.public_bytes(serialization.Encoding.PEM))
    paths.ca.write_bytes(ca.public_bytes(serialization.Encoding.PEM))
    _write_private(paths.key, key)
    return paths


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
        .not_valid_before(now - timedelta(days=60))
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
