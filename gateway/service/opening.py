"""A service ready to work, from settings and mappings."""

import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager

from gateway.deliver import Repository
from gateway.operate.logs import Log, open_log
from gateway.service.inbound import Inbound
from gateway.service.lock import only_one
from gateway.service.loop import Service, now
from gateway.service.parts import paces_from, servers_from, software, tools_from
from gateway.service.sealing import Sealing, signing_key
from gateway.service.storing import opened_store
from gateway.service.telling import Telling
from gateway.settings import Settings, ready_for_work
from gateway.settings.maps import Mappings
from gateway.store import Store
from gateway.tracing import Tracing
from gateway.watch import Inbox

MOST_STORED = 4
"""A file up to this many times the reading limit is stored and held in the store; beyond, it is only put aside."""


@contextmanager
def opened(settings: Settings, mappings: Mappings) -> Iterator[Service]:
    """A service ready to work. Raises SettingsError for what is missing, StoreError where another one works."""
    ready_for_work(settings)
    tools = tools_from(settings, mappings)
    folders = settings.folders
    for folder in (folders.inbox, folders.done, folders.held):
        folder.mkdir(parents=True, exist_ok=True)
    folders.state.mkdir(mode=0o700, parents=True, exist_ok=True)
    watch = settings.watch
    inbox = Inbox(folders.inbox, watch.quiet, watch.sweep_every, watch.use_events)
    with only_one(folders.state), opened_store(settings) as store:
        worker = f"{socket.gethostname()}:{os.getpid()}"
        log = open_log(settings.log.form, settings.log.level)
        store.take_over(worker, now())
        yield Service(
            store=store,
            tools=tools,
            servers=servers_from(settings, mappings.codes),
            inbound=Inbound(inbox, folders, MOST_STORED * watch.most_bytes),
            sealing=Sealing(key=signing_key(folders.state), outside=settings.audit.heads_file),
            worker=worker,
            log=log,
            telling=_telling(settings, mappings, store, log),
            paces=paces_from(settings),
        )


def _telling(settings: Settings, mappings: Mappings, store: Store, log: Log) -> Telling | None:
    """Who else is told, where an audit repository is set up."""
    place = settings.audit.repository
    if place is None:
        return None
    tracing = Tracing(codes=mappings.codes, host=socket.gethostname())
    return Telling(
        store=store, repository=Repository(place.destination(), software()), tracing=tracing, log=log, clock=now
    )
