"""What will soon stop a destination: certificates that end, keys that are not accepted. Told before it does."""

from collections.abc import Mapping
from datetime import date, datetime

from gateway.deliver import Folder, Recipient
from gateway.operate.logs import Log
from gateway.store import Store


class Lookout:
    """Tells the log and `status`, at the start, once a day, and when something changes."""

    def __init__(self, store: Store, servers: Mapping[str, Recipient], log: Log) -> None:
        self._store = store
        self._servers = servers
        self._log = log
        self._told: dict[str, tuple[date, tuple[str, ...]]] = {}

    def look(self, name: str, now: datetime) -> None:
        """Tell what is new about this destination."""
        server = self._servers[name]
        if isinstance(server, Folder):  # it has no certificate that could run out
            return
        warnings = server.warnings(now)
        if self._told.get(name) == (now.date(), warnings):
            return
        for words in warnings:
            self._log.warning("renew", destination=name, said=words)
        detail = {"alarm": "; ".join(warnings)} if warnings else {"certificates": "good"}
        self._store.set_health(f"access to {name}", now, detail)
        self._told[name] = (now.date(), warnings)
