"""For a profile that allows no components but the two pressures: the mean alone, its further results beside it."""

from typing import Any

from gateway.fhir.elements import Element, Scope, concept, observation
from gateway.fhir.narrative import narrative, table
from gateway.mapping.profile import Published
from gateway.model import Period


def apart(scope: Scope, period: Period, result: Element, closed: Published) -> tuple[Element, Element]:
    """The result of a period with its two pressures only, called as the profile wants them, and all the rest."""
    pressures, rest = result["component"][:2], result["component"][2:]
    named = [_called(item, part.text) for item, part in zip(pressures, closed.parts, strict=True)]
    alone = result | {"component": named, "text": narrative(result["code"]["text"], table(named))}
    code = concept(scope, "period-further")
    title = f"{code['text']}: {result['code']['text']}"
    further = observation(
        scope,
        scope.identity.uuid(f"further {period.name.value} day {period.day}"),
        "procedure",
        code | {"text": title},
        text=narrative(title, table(rest)),
        effectivePeriod=result["effectivePeriod"],
        method=result["method"],
        component=rest,
    )
    return alone, further


def _called(item: dict[str, Any], text: str) -> Element:
    return item | {"code": item["code"] | {"text": text}} if text else item
