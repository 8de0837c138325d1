"""Every published number names where it was seen, and how sure that is."""

from enum import StrEnum

from pydantic import Field

from gateway.mapping.parse import Declared


class Standing(StrEnum):
    """`verified`: seen in the source named. `secondary`: seen only in a page about it. `memory`: not looked up."""

    VERIFIED = "verified"
    SECONDARY = "secondary"
    MEMORY = "memory"


class Cited(Declared):
    """Anything that needs a source: where it was seen and how sure that is."""

    citation: str = Field(min_length=3)
    standing: Standing
