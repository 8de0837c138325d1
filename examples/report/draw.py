"""Draws the pictures of this folder anew: `python examples/report/draw.py` from the top of the checkout.

Look at every one before committing it: the test compares later pages with these.
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent.parent))

from tests.unit.report.cases import CASES  # noqa: E402
from tests.unit.report.pages import pdf_of, pictures  # noqa: E402
from tests.unit.report.test_pictures import GREYS, SCALE  # noqa: E402

for old in HERE.glob("*.png"):
    old.unlink()
for case in CASES:
    for at, picture in enumerate(pictures(pdf_of(case.name), SCALE), start=1):
        name = HERE / f"{case.name}-{at}.png"
        picture.convert("L").quantize(GREYS).save(name, optimize=True)
        print(name.name, name.stat().st_size)
