"""`bp-gateway reconcile`: every destination beside the ledger, and what is missing delivered once more."""

import os
import socket
from dataclasses import replace
from datetime import datetime

from gateway import pipeline
from gateway.deliver import Server
from gateway.model import TryLater
from gateway.model.circuit import Circuit
from gateway.model.reconciled import Fault
from gateway.pacing import Gates
from gateway.reconciling import Compared, Reconciled, look, reconcile
from gateway.service.loop import now
from gateway.service.parts import paces_from, servers_from
from gateway.settings import Settings
from gateway.settings.maps import Mappings
from gateway.store import Store
from gateway.tracing import Tracing


def reconciled(
    settings: Settings, mappings: Mappings, store: Store, names: tuple[str, ...], since: datetime, repair: bool
) -> tuple[Reconciled, ...]:
    """Compare these destinations (those that are servers), one after the other. After a repair what was sent again
    is compared again, and what is told is what is left.
    """
    worker = f"reconcile {socket.gethostname()}:{os.getpid()}"
    servers = servers_from(settings, mappings.codes)
    told = []
    for name in names:
        server = servers[name]
        if not isinstance(server, Server):
            continue  # a folder is emptied by whoever fetches from it
        result = reconcile(store, server, since, repair, worker, now())
        if any(each.sent_again for each in result.found):
            _deliver(settings, mappings, store, server, worker)
            result.found = [_after(store, server, each) for each in result.found]
        told.append(result)
    return tuple(told)


def _deliver(settings: Settings, mappings: Mappings, store: Store, server: Server, worker: str) -> None:
    """As the service does, also beside one that runs: a delivery is leased to one worker only."""
    gates = Gates(store, paces_from(settings), _nobody)
    tracing = (
        Tracing(codes=mappings.codes, host=socket.gethostname()) if settings.audit.repository is not None else None
    )
    servers = {server.destination.name: server}
    while pipeline.deliver_next(store, servers, worker, now, tracing, gates):
        pass


def _nobody(name: str, before: Circuit, after: Circuit) -> None:
    """The service's log tells of circuits; here `status` does."""


def _after(store: Store, server: Server, compared: Compared) -> Compared:
    if not compared.sent_again:
        return compared
    waiting = replace(compared, not_sent="it is in the queue, or held: `bp-gateway status` tells")
    if not store.done(server.destination.name, compared.recording_id):
        return waiting
    again = look(store, server, compared.recording_id)
    if isinstance(again, TryLater):
        return waiting
    mended = tuple(each for each in compared.differences if each.fault is Fault.MISSING)
    left = again.differences
    return replace(compared, differences=left, repaired=tuple(each for each in mended if each not in left))
