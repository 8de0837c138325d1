"""The tamper-evident log: hash chain, signed heads, proof. Pure; where it is kept is the store's matter."""

from gateway.audit.chain import GENESIS, SALT_BYTES, Entry, commitment, entry, link_hash
from gateway.audit.heads import Head, TornLine, fingerprint, genuine, parse_heads, sign
from gateway.audit.proof import verify
from gateway.audit.verdict import Broken, Fault, Verification

__all__ = [
    "GENESIS",
    "SALT_BYTES",
    "Broken",
    "Entry",
    "Fault",
    "Head",
    "TornLine",
    "Verification",
    "commitment",
    "entry",
    "fingerprint",
    "genuine",
    "link_hash",
    "parse_heads",
    "sign",
    "verify",
]
