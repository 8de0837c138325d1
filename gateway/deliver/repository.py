"""The audit repository: takes AuditEvents, at least once; no delivery ever waits for it."""

import time
from collections.abc import Iterator
from datetime import timedelta

from gateway.deliver.auth import credentials
from gateway.deliver.checking import Checked, not_good
from gateway.deliver.outcome import Shape, meaning, of_shape
from gateway.deliver.sending import JSON
from gateway.deliver.stopped import Stopped
from gateway.deliver.talk import Habits, Talk
from gateway.deliver.wire import Request, Wire
from gateway.fhir import capabilities
from gateway.fhir.heard import bundle_answer
from gateway.model import Rejected, TryLater
from gateway.settings.destination import Destination

PATIENCE = timedelta(minutes=2)


class Repository:
    """One audit repository; safe to use from several threads."""

    def __init__(self, place: Destination, software: str) -> None:
        self._place = place
        self._wire = Wire(place, software)
        self._credentials = credentials(place, self._wire)

    def take(self, bundle: bytes) -> TryLater | Rejected | None:
        """Send one bundle of AuditEvents. None: every one was taken. Never raises for what a server does."""
        try:
            talk = self._talk()
            request = Request(method="POST", address=talk.base, headers=JSON, content=bundle, writes=True)
            answer = bundle_answer(talk.good(request).body)
        except Stopped as stopped:
            return stopped.answer
        if answer is None:
            return of_shape(Shape.NOT_FHIR)
        for entry in answer.entries:
            if trouble := meaning(entry.status or 500, entry.outcome, None, True, ()):
                return trouble
        return None

    def check(self) -> Iterator[Checked]:
        """Can it be reached, does it let us in, does it take AuditEvents? Writes nothing."""
        name, talk = self._place.name, self._talk()
        try:
            found = capabilities(talk.open_to_all(Request(method="GET", address=f"{talk.base}/metadata")).body)
            talk.credentials.header(talk.deadline)
        except Stopped as stopped:
            yield not_good(f"{name}: reached", stopped)
            return
        if found is None or not found.speaks_r4:
            yield Checked(what=f"{name}: reached", good=False, said="this is no FHIR R4 server; look at url")
            return
        yield Checked(what=f"{name}: reached", good=True, said=f"{found.software or 'it'} answers at {talk.base}")
        takes = (found.batch or found.transaction) and "create" in found.interactions.get("AuditEvent", ())
        said = "takes AuditEvents in bundles" if takes else "does not declare batch and create of AuditEvent"
        yield Checked(what=f"{name}: AuditEvents", good=takes, said=said)

    def _talk(self) -> Talk:
        return Talk(
            base=self._place.url,
            wire=self._wire,
            credentials=self._credentials,
            habits=Habits(),
            deadline=time.monotonic() + PATIENCE.total_seconds(),
        )
