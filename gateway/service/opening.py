"""A service ready to work, from settings and mappings."""

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from threading import Event

from gateway.deliver import Repository
from gateway.errors import StoreUnavailable
from gateway.model import CompanionUse
from gateway.operate.logs import Log, open_log
from gateway.service.inbound import Inbound
from gateway.service.lock import only_one
from gateway.service.loop import FAULT_PAUSE, Service, now
from gateway.service.outbound import Outbound
from gateway.service.parts import paces_from, servers_from, software, tools_from
from gateway.service.pdfs import MOST_STORED
from gateway.service.presence import Me, Presence, alone, me
from gateway.service.sealing import Sealing, signing_key
from gateway.service.sharing import Sharing
from gateway.service.storing import open_store
from gateway.service.telling import Telling
from gateway.service.troubles import FAULTS, Clock, Troubles
from gateway.settings import Settings, ready_for_work
from gateway.settings.maps import Mappings
from gateway.store import Store
from gateway.tracing import Tracing
from gateway.watch import Inbox


@contextmanager
def opened(
    settings: Settings, mappings: Mappings, stop: Event | None = None, clock: Clock = now
) -> Iterator[Service]:
    """A service ready to work. Raises SettingsError for what is missing, StoreError where another one works.

    With `stop` it waits until the database can be reached, or `stop` is set; without, StoreUnavailable is raised.
    `clock` gives the time of day.
    """
    ready_for_work(settings)
    tools = tools_from(settings, mappings)
    folders = settings.folders
    for folder in (folders.inbox, folders.done, folders.held):
        folder.mkdir(parents=True, exist_ok=True)
    folders.state.mkdir(mode=0o700, parents=True, exist_ok=True)
    log = open_log(settings.log.form, settings.log.level)
    with only_one(folders.state) as node_id, _store(settings, log, stop) as store:
        who = me(node_id, settings.node.name)
        sealing = Sealing(key=signing_key(folders.state), outside=settings.audit.heads_file)
        _take_place(store, settings, who, sealing, clock())
        telling = _telling(settings, mappings, store, log, clock)
        outbound = Outbound(
            store=store,
            servers=servers_from(settings, mappings.codes),
            paces=paces_from(settings),
            worker=who.worker,
            log=log,
            clock=clock,
            tracing=telling.tracing if telling else None,
        )
        yield Service(
            store=store,
            tools=tools,
            inbound=_inbound(settings, who, store),
            sealing=sealing,
            worker=who.worker,
            log=log,
            telling=telling,
            outbound=outbound,
            presence=Presence(store, who, software(), clock()),
            troubles=_troubles(settings, who, store, log, clock),
            clock=clock,
        )


def _store(settings: Settings, log: Log, stop: Event | None) -> Store:
    while True:
        try:
            return open_store(settings)
        except StoreUnavailable as error:
            if stop is None or stop.is_set():
                raise
            log.warning("waiting for the store", said=str(error))
            stop.wait(FAULT_PAUSE)


def _take_place(store: Store, settings: Settings, who: Me, sealing: Sealing, moment: datetime) -> None:
    """Leases that a dead forerunner of this node left end at once; those of other nodes are theirs."""
    if settings.store.url is None:
        alone(store, who)
        store.take_over(who.worker, moment)
    else:
        sealing.same_key_everywhere(store)
        store.take_over(who.worker, moment, of=who.signature)


def _inbound(settings: Settings, who: Me, store: Store) -> Inbound:
    watch, folders = settings.watch, settings.folders
    pdfs = settings.companion
    within = None if pdfs.use is CompanionUse.IGNORE else pdfs.wait
    inbox = Inbox(folders.inbox, watch.quiet, watch.sweep_every, watch.use_events, pdf_within=within)
    most = MOST_STORED * watch.most_bytes
    if settings.store.url is None:
        return Inbound(inbox, folders, most, companions=pdfs)
    sharing = Sharing(folders.inbox, who.worker, store)
    return Inbound(inbox, folders, most, sharing, part=f"inbox of {who.name}", companions=pdfs)


def _telling(settings: Settings, mappings: Mappings, store: Store, log: Log, clock: Clock) -> Telling | None:
    """Who else is told, where an audit repository is set up."""
    place = settings.audit.repository
    if place is None:
        return None
    tracing = Tracing(codes=mappings.codes, host=socket.gethostname())
    return Telling(
        store=store, repository=Repository(place.destination(), software()), tracing=tracing, log=log, clock=clock
    )


def _troubles(settings: Settings, who: Me, store: Store, log: Log, clock: Clock) -> Troubles:
    """A file that fails is offered again after a sweep, so a trouble is over when two of them went by without it."""
    name = FAULTS if settings.store.url is None else f"{FAULTS} of {who.name}"
    return Troubles(store, log, clock, 2 * settings.watch.sweep_every, name)
