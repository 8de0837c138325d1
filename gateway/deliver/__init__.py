"""Into the record, once in effect: find the person, write, believe only what was answered and read back.

server   one destination: `file` and `check`   talk      credentials, pages, outcomes     wire   one request
auth     how we show who we are                lookup    who has the number               person the strict decision
filing   write part by part, ask first         readback  is it there, once, unchanged
outcome  the table of outcomes                 backoff   how long to wait
checking what `bp-gateway check` asks           names     written in other ways
tokens   asked for with proofs (a signed assertion, a shared secret), by keys and secrets of files
trust    TLS, and certificates that will run out   silence   why no answer came   skew   two clocks compared
changing what stands in a record before it is overwritten
repository  who else is told: AuditEvents       folder   a place without a server
circuit  when a server that fails is left alone   comparing  is all still there as filed
"""

from gateway.deliver.backoff import backoff
from gateway.deliver.checking import Checked
from gateway.deliver.comparing import Kept
from gateway.deliver.folder import Folder
from gateway.deliver.repository import Repository
from gateway.deliver.server import Server

Recipient = Server | Folder
"""Whoever takes deliveries: both have `destination`, `file` and `check`."""

__all__ = ["Checked", "Folder", "Kept", "Recipient", "Repository", "Server", "backoff"]
