"""The way out: what is due goes to each destination, as fast and when it wants it."""

from collections.abc import Mapping

from gateway import pipeline
from gateway.deliver import Recipient
from gateway.delivering import Unanswered
from gateway.model.circuit import Circuit, resting
from gateway.operate.logs import Log
from gateway.pacing import Gates, Pace
from gateway.service.account import Account
from gateway.service.lookout import Lookout
from gateway.service.troubles import Clock
from gateway.store import Store
from gateway.tracing import Tracing


class Outbound:
    """The delivering side of the service; any thread may use it. `at_once`: how many threads a destination gets."""

    def __init__(
        self,
        *,
        store: Store,
        servers: Mapping[str, Recipient],
        paces: Mapping[str, Pace],
        worker: str,
        log: Log,
        clock: Clock,
        tracing: Tracing | None,
    ) -> None:
        self.at_once = {name: pace.at_once for name, pace in paces.items()}
        self._store = store
        self._servers = servers
        self._worker = worker
        self._log = log
        self._clock = clock
        self._tracing = tracing
        self._lookout = Lookout(store, servers, log)
        self._gates = Gates(store, paces, self._rests)
        self._unanswered = Unanswered()

    @property
    def names(self) -> list[str]:
        """The destinations, in order."""
        return sorted(self._servers)

    def look(self, name: str) -> None:
        """What will soon stop this destination is told."""
        self._lookout.look(name, self._clock())

    def send(self, name: str) -> pipeline.Sent | None:
        """Make the next delivery to one destination."""
        servers = {name: self._servers[name]}
        return pipeline.deliver_next(
            self._store, servers, self._worker, self._clock, self._tracing, self._gates, self._unanswered
        )

    def wait_for_rate(self, name: str) -> float:
        """Seconds, where only the rate stops what is due."""
        moment = self._clock()
        seconds = self._gates.wait_for_rate(name, moment)
        due = self._store.next_due(moment, {name}) if seconds else None
        return seconds if due is not None and due <= moment else 0.0

    def told_why(self, account: Account) -> None:
        """What waits because nothing may be sent to its destination now."""
        moment = self._clock()
        for state in self._store.overview(moment).destinations:
            if state.waiting and state.destination in self._servers:
                if said := self._gates.stopped_by(state.destination, moment):
                    account.remarks.append(f"{state.waiting} wait for {state.destination}: {said}")
                account.unreachable = account.unreachable or self._gates.rests(state.destination)

    def _rests(self, name: str, before: Circuit, after: Circuit) -> None:
        if after.until is not None:
            self._log.warning("destination rests", destination=name, said=resting(after))
        else:
            self._log.info("destination answers again", destination=name, said=f"it was {resting(before)}")
