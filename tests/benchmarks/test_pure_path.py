"""From bytes to bytes without store and network: recordings a second, and where the time goes, side by side.

./tests/run -- tests/benchmarks/test_pure_path.py -s
"""

import json
import time
from collections import Counter
from datetime import UTC, date, datetime

from scenario.exports import exports

from gateway import fhir
from gateway.intake import consider, key_of, make, parcel_for
from gateway.service.previewing import preview_tools

ROUNDS = 12
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_pure_path_beside_writing_and_reading_its_own_json() -> None:
    tools = preview_tools(None, {}, timezone=None, guideline=None)
    export = next(exports(date(2026, 11, 25)))
    spent: Counter[str] = Counter()
    packed = b""
    for round_ in range(ROUNDS + 1):
        begun = time.process_time()
        considered = consider(export.content, export.name, tools, NOW)
        read = time.process_time()
        made = make(considered, tools, NOW)
        drawn = time.process_time()
        identity = fhir.Identity(b"k" * 32, key_of(made.recording, b"k" * 32, issue=1))
        packed = fhir.pack(parcel_for(tools.routes[0], made, identity, tools, NOW))
        filed = time.process_time()
        json.dumps(json.loads(packed))
        plain = time.process_time()
        if round_:  # the first round loads libraries
            steps = {"analyse": read - begun, "report": drawn - read, "fhir": filed - drawn, "json": plain - filed}
            spent.update(steps)
    whole = spent["analyse"] + spent["report"] + spent["fhir"]
    shares = ", ".join(f"{name} {spent[name] / whole:.0%}" for name in ("analyse", "report", "fhir"))
    ratio = whole / spent["json"]
    print(f"\n{ROUNDS / whole:.1f} recordings/s, {len(packed)} bytes each ({shares}); {ratio:.0f} x its JSON")
    assert len(packed) > 10_000
