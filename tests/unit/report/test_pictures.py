"""Pages look as they did when a person last looked at them (`examples/report`)."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageFilter

from tests.unit.report.cases import CASES, Case
from tests.unit.report.pages import pdf_of, pictures

FOLDER = Path(__file__).parents[3] / "examples" / "report"
SCALE = 1.15
GREYS = 16
BLUR = 1.5
"""pixels: smaller shifts of edges between versions of a rasteriser are not seen by a reader either"""
MOST_AVERAGE, MOST_DIFFERENT = 1.5, 0.004
"""grey levels of 255 on average; share of the page that differs by more than a quarter of the range"""


def seen(picture: Image.Image) -> np.ndarray:  # type: ignore[type-arg]
    return np.asarray(picture.convert("L").filter(ImageFilter.GaussianBlur(BLUR)), dtype=float)


def distance(one: Image.Image, other: Image.Image) -> tuple[float, float]:
    apart = np.abs(seen(one) - seen(other))
    return float(apart.mean()), float((apart > 64).mean())


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_page_looks_as_it_was_last_seen(case: Case) -> None:
    pages = pictures(pdf_of(case.name), SCALE)
    stored = sorted(FOLDER.glob(f"{case.name}-[0-9].png"))
    assert len(stored) == len(pages)
    for page, path in zip(pages, stored, strict=True):
        with Image.open(path) as known:
            assert known.size == page.size
            average, different = distance(page, known)
        assert average < MOST_AVERAGE
        assert different < MOST_DIFFERENT


def test_the_comparison_sees_another_case() -> None:
    """A picture test that accepts anything proves nothing."""
    page = pictures(pdf_of("adequate"), SCALE)[0]
    for other in ("inadequate", "day-sleeper", "child"):
        with Image.open(FOLDER / f"{other}-1.png") as known:
            average, different = distance(page, known)
        assert average > MOST_AVERAGE or different > MOST_DIFFERENT
