"""What DEVELOPERS.md shows of the analysis as a library runs as it stands, and prints what it should."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]


def test_the_example_runs() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## The analysis as a library")[1]
    blocks = re.findall(r"```python\n(.*?)```", text.split("\n## ")[0], re.DOTALL)
    assert len(blocks) == 2
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(blocks)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    first, *conclusion = done.stdout.splitlines()
    assert re.fullmatch(r"\d{2,3}\.\d mm\[Hg\] \d+", first)
    assert any(line.startswith("Awake average ") for line in conclusion)
