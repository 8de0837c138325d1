"""Whether results are tied to the order that asked for them, as the record server has it."""

from typing import Literal

from pydantic import field_validator

from gateway.mapping.parse import Declared


class OrderChoice(Declared):
    """Orders are looked up on the server before a result is filed."""

    codes: tuple[str, ...] = ()
    """codes by which this server's orders name a 24-hour recording, each "system|code", any of them; none: orders are
    not looked up, and a result names the number that the export has"""
    system: str = ""
    """kind of number (URI) that an export means by its order number; "" for any"""
    none: Literal["file", "hold"] = "file"
    """where there is no open order: file without, or hold"""
    several: Literal["file", "hold"] = "hold"
    """where there is more than one open order and the export names none: file without, or hold"""

    @field_validator("codes")
    @classmethod
    def _with_system(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        for each in value:
            system, bar, code = each.partition("|")
            if not (system and bar and code) or "," in each or "|" in code:
                raise ValueError('write each code as "system|code", such as "http://snomed.info/sct|164783007"')
        return value

    def pairs(self) -> frozenset[tuple[str, str]]:
        """The codes as system and code."""
        split = (each.partition("|") for each in self.codes)
        return frozenset((system, code) for system, _, code in split)
