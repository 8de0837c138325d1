"""Rules of Narrative.div (FHIR R4, txt-1 and txt-2): XHTML, well formed, nothing that acts or points outside."""

from collections.abc import Iterator
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

XHTML = "{http://www.w3.org/1999/xhtml}"
ELEMENTS = frozenset(
    ("div", "p", "b", "i", "br", "span", "ul", "ol", "li", "table", "thead", "tbody", "tr", "th", "td")
)
"""The part of txt-1's list that we write."""

ATTRIBUTES = frozenset({"title", "lang", "class", "{http://www.w3.org/XML/1998/namespace}lang"})


def div_faults(div: str) -> Iterator[str]:
    """What is wrong with a narrative."""
    try:
        root: Element = fromstring(div)
    except (ParseError, DefusedXmlException):
        yield "is not well-formed XHTML"
        return
    if root.tag != f"{XHTML}div":
        yield "is not one div of XHTML (txt-1)"
    for element in root.iter():
        if element.tag.removeprefix(XHTML) not in ELEMENTS:
            yield f"may not hold the element {element.tag.removeprefix(XHTML)} (txt-1)"
        if not set(element.attrib) <= ATTRIBUTES:
            yield "may not hold such an attribute (txt-1)"
    if not "".join(root.itertext()).strip():
        yield "says nothing (txt-2)"
