"""Text that anybody can read without our tool: escaped XHTML of the few elements that R4 allows everywhere."""

from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from gateway.fhir.elements import Element, plain

OPEN = '<div xmlns="http://www.w3.org/1999/xhtml" xml:lang="{0}" lang="{0}">'


def narrative(title: str, *parts: str, language: str = "en") -> Element:
    """A generated Narrative in that language."""
    return {
        "status": "generated",
        "div": f"{OPEN.format(language)}<p><b>{clean(title)}</b></p>{''.join(parts)}</div>",
    }


def of_reading(body: Mapping[str, Any]) -> Element:
    """A single reading in four lines at most, told from the resource itself: what, when, the values, the remarks."""
    states = [item["valueCodeableConcept"]["text"].lower() for item in body.get("extension", ())]
    values = [f"{part['code']['text']} {shown(part) or absence(part)}" for part in body.get("component", ())]
    lines = [
        ", ".join([body["effectiveDateTime"], *states]),
        "; ".join(values) or shown(body),
        " ".join(note["text"] for note in body.get("note", ())),
    ]
    return narrative(body["code"]["text"], paragraphs(line for line in lines if line))


def absence(part: Mapping[str, Any]) -> str:
    """Why there is no value, or that what the name says is so."""
    return str(part["dataAbsentReason"]["text"]).lower() if "dataAbsentReason" in part else "yes"


def paragraphs(sentences: Iterable[str]) -> str:
    """One paragraph for each sentence."""
    return "".join(f"<p>{clean(sentence)}</p>" for sentence in sentences)


def table(components: Iterable[Mapping[str, Any]]) -> str:
    """Name and value of each component that holds a number."""
    rows = [(item["code"]["text"], value) for item in components if (value := shown(item))]
    cells = "".join(f"<tr><td>{clean(name)}</td><td>{clean(value)}</td></tr>" for name, value in rows)
    return f"<table><tbody>{cells}</tbody></table>" if rows else ""


def shown(item: Mapping[str, Any]) -> str:
    """The value of a component as people write it, "" for none."""
    if quantity := item.get("valueQuantity"):
        unit = quantity["unit"]
        return f"{quantity['value']}" if unit == "1" else f"{quantity['value']} {unit}"
    if "valueInteger" in item:
        return str(item["valueInteger"])
    if said := item.get("valueCodeableConcept"):
        return str(said["text"])
    return ""


def clean(text: str) -> str:
    """Escaped, and without what XML cannot hold."""
    return escape(plain(text) or "", quote=True)
