"""Damaged exports through the whole of `preview`: always a result or a hold with a sentence, never a fault of ours.

`MUTATIONS` in the environment sets how many copies are tried (a thousand by hand; fewer by default).
"""

import os
import random
from collections.abc import Callable
from datetime import UTC, date, datetime

import orjson
from scenario.exports import exports

from gateway.errors import ContentFault
from gateway.intake import consider
from gateway.model.plain import plain_json
from gateway.service.previewing import bundle_bytes, preview_tools

COUNT = int(os.environ.get("MUTATIONS", "150"))
TODAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
ODD = [
    b"",
    b"0",
    b"-1",
    b"999",
    b"9" * 40,
    b"1e309",
    b"NaN",
    b"\x00",
    b"\xff",
    b"=1+1",
    b"24:00",
    b"\xe2\x80\x8b",
    b",",
]
Mutation = Callable[[random.Random, bytes], bytes]


def flipped(chance: random.Random, content: bytes) -> bytes:
    spot = chance.randrange(len(content))
    return content[:spot] + bytes([content[spot] ^ (1 << chance.randrange(8))]) + content[spot + 1 :]


def cut_short(chance: random.Random, content: bytes) -> bytes:
    return content[: chance.randrange(len(content))]


def line_moved(chance: random.Random, content: bytes) -> bytes:
    lines = content.splitlines(keepends=True)
    lines.insert(chance.randrange(len(lines)), lines.pop(chance.randrange(len(lines))))
    return b"".join(lines)


def line_doubled(chance: random.Random, content: bytes) -> bytes:
    lines = content.splitlines(keepends=True)
    spot = chance.randrange(len(lines))
    return b"".join([*lines[:spot], lines[spot], *lines[spot:]])


def line_lost(chance: random.Random, content: bytes) -> bytes:
    lines = content.splitlines(keepends=True)
    lines.pop(chance.randrange(len(lines)))
    return b"".join(lines)


def cell_replaced(chance: random.Random, content: bytes) -> bytes:
    lines = content.splitlines(keepends=True)
    spot = chance.randrange(len(lines))
    mark = b";" if lines[spot].count(b";") > lines[spot].count(b",") else b","
    cells = lines[spot].split(mark)
    cells[chance.randrange(len(cells))] = chance.choice(ODD)
    lines[spot] = mark.join(cells)
    return b"".join(lines)


def digit_changed(chance: random.Random, content: bytes) -> bytes:
    spots = [spot for spot, byte in enumerate(content) if chr(byte).isdigit()]
    spot = chance.choice(spots)
    return content[:spot] + str(chance.randrange(10)).encode() + content[spot + 1 :]


MUTATIONS: tuple[Mutation, ...] = (
    flipped,
    cut_short,
    line_moved,
    line_doubled,
    line_lost,
    cell_replaced,
    digit_changed,
)


def test_damaged_exports_give_a_result_or_a_hold_with_a_sentence() -> None:
    tools = preview_tools(None, {}, timezone=None, guideline=None)
    originals = [export for export in exports(TODAY) if export.ends == "delivered"]
    chance = random.Random(20261125)
    ends = {"result": 0, "hold": 0}
    for number in range(COUNT):
        export = originals[number % len(originals)]
        content = export.content
        for _ in range(chance.randrange(1, 4)):
            content = chance.choice(MUTATIONS)(chance, content) or b"\n"
        considered = consider(content, export.name, tools, NOW)
        facts = orjson.loads(plain_json(considered.facts))
        if considered.hold is not None:
            assert facts["hold"]["sentence"]
            assert facts["hold"]["action"]
            ends["hold"] += 1
            continue
        assert facts["summary"]["conclusion"]
        ends["result"] += 1
        if number % 10 == 0:
            try:
                bundle_bytes(considered, tools, NOW)
            except ContentFault as fault:  # what could not be filed would be held; say which rule it was
                raise AssertionError(fault.problems) from fault
    assert min(ends.values()) > 0, ends
    print(f"{COUNT} damaged copies: {ends['result']} results, {ends['hold']} holds")
