"""Does the server's copy mean what was sent?"""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any


def differences(sent: Mapping[str, Any], held: Mapping[str, Any]) -> tuple[str, ...]:
    """Places where the server's copy does not mean what was sent; what the server adds is no difference."""
    return tuple(_differing(sent, held, str(sent.get("resourceType", ""))))


def _differing(sent: Any, held: Any, place: str) -> list[str]:
    if isinstance(sent, Mapping):
        if not isinstance(held, Mapping):
            return [place]
        return [
            found
            for key, value in sent.items()
            if key not in ("meta", "text") and not _open_link(key, value)
            for found in _differing(value, held.get(key), f"{place}.{key}")
        ]
    if isinstance(sent, list | tuple):
        if not isinstance(held, list | tuple) or len(held) < len(sent):
            return [place]
        return [f for i, value in enumerate(sent) for f in _differing(value, held[i], f"{place}[{i}]")]
    return [] if _same(sent, held, place) else [place]


def _open_link(key: str, value: object) -> bool:
    """A link inside one bundle: the server writes the id there that it gave."""
    return key in ("reference", "url") and isinstance(value, str) and value.startswith("urn:uuid:")


def _same(sent: Any, held: Any, place: str) -> bool:
    if isinstance(sent, int | Decimal) and not isinstance(sent, bool) and isinstance(held, int | Decimal):
        return Decimal(sent) == Decimal(held)
    if isinstance(sent, str) and isinstance(held, str) and sent != held:
        if place.endswith((".reference", ".url")):  # some servers answer with absolute references
            return held.endswith(f"/{sent}")
        instant = _instant(sent)
        return instant is not None and instant == _instant(held)
    return bool(sent == held)


def _instant(text: str) -> datetime | None:
    """An aware instant: some servers write the same one with another offset or other fractions."""
    if "T" not in text:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo else None
