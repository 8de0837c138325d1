"""What `bp-gateway check` looks at: settings and mappings, folders, the clock's zone, keys, every record server."""

import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from gateway.deliver import Checked, Repository
from gateway.errors import GatewayError
from gateway.service.parts import servers_from, software, tools_from
from gateway.service.sealing import signing_key
from gateway.service.storing import opened_store
from gateway.settings import Settings, ready_for_work
from gateway.settings.maps import Mappings

LEAST_ROOM = 20_000_000
"""Bytes that a disk must have left; a recording needs a hundredth of it."""


def checked(settings: Settings, mappings: Mappings) -> tuple[Checked, ...]:
    """Everything that was looked at, in order. Raises SettingsError when work could not even begin."""
    ready_for_work(settings)
    results = [*_mappings(settings, mappings), *folders_now(settings), *_store(settings), *_heads(settings)]
    for server in servers_from(settings, mappings.codes).values():
        results += server.check()
    if settings.audit.repository:
        results += Repository(settings.audit.repository.destination(), software()).check()
    return tuple(results)


def _mappings(settings: Settings, mappings: Mappings) -> Iterator[Checked]:
    tools = tools_from(settings, mappings)
    said = f"{len(mappings.sources)} layouts ({', '.join(sorted(mappings.sources))}) from "
    yield Checked(what="mappings", good=True, said=said + ", ".join(str(folder) for folder in mappings.folders))
    guideline = tools.rules.guideline
    doubt = f"; not verified: {', '.join(guideline.unverified)}" if guideline.unverified else ""
    yield Checked(what="guideline", good=True, said=f"{guideline.title}{doubt}")
    today = datetime.now(UTC).date()
    for aging in (remark for each in (guideline, *tools.rules.others) for remark in each.aged(today)):
        yield Checked(what="guideline's edition", good=True, said=aging)
    review = tools.rules.review
    said = f"'{review.name}'" if review else "none; production needs one, or a named person who declines it"
    yield Checked(what="local review rule", good=True, said=said)
    yield Checked(what="time zone", good=True, said=f"{settings.site.timezone} where a file is silent")


def folders_now(settings: Settings) -> Iterator[Checked]:
    """Can each folder be used, and is there room on its disk?"""
    folders = settings.folders
    for name in ("inbox", "done", "held", "state"):
        yield _folder(name, getattr(folders, name))


def _folder(name: str, folder: Path) -> Checked:
    what = f"folder {name}"
    if not folder.exists():
        parent = next(each for each in folder.parents if each.exists())
        good = os.access(parent, os.W_OK)
        said = (
            "will be made on the first run" if good else f"cannot be made: give this user the right to write {parent}"
        )
        return Checked(what=what, good=good, said=f"{folder}: {said}")
    good = folder.is_dir() and os.access(folder, os.R_OK | os.W_OK | os.X_OK)
    if not good:
        return Checked(what=what, good=False, said=f"{folder}: give this user read and write rights")
    left = shutil.disk_usage(folder).free
    said = f"{folder}: only {left / 1e6:.0f} MB are left on its disk; make room" if left < LEAST_ROOM else f"{folder}"
    return Checked(what=what, good=left >= LEAST_ROOM, said=said)


def _store(settings: Settings) -> Iterator[Checked]:
    if not settings.folders.state.exists():
        return
    try:
        signing_key(settings.folders.state)
        with opened_store(settings) as store:
            seq, _ = store.head()
    except (GatewayError, OSError) as error:
        yield Checked(what="store", good=False, said=str(error))
        return
    yield Checked(what="store", good=True, said=f"can be opened; {seq} audit entries")


def _heads(settings: Settings) -> Iterator[Checked]:
    place = settings.audit.heads_file
    if place is None:
        said = "none outside the store, so a cut end of the log cannot be seen; write [audit] heads_file"
        yield Checked(what="signed heads of the audit log", good=True, said=said)
    else:
        yield Checked(what="signed heads of the audit log", good=True, said=str(place))
