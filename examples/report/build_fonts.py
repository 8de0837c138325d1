"""Makes the font files and `coverage.json` of the report from two Debian packages, unpacked by `dpkg -x` into FOLDER.

python examples/report/build_fonts.py FOLDER
"""

import json
import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

TARGET = Path(__file__).resolve().parents[2] / "gateway" / "report" / "fonts"
NOTO, DROID = "usr/share/fonts/truetype/noto", "usr/share/fonts/truetype/droid"
EUROPEAN = (
    (0x20, 0x7E),  # ASCII
    (0xA0, 0x52F),  # Latin, Greek, Cyrillic
    (0x1E00, 0x1FFF),  # Latin and Greek with several accents
    (0x2000, 0x20CF),  # punctuation, currency
    (0x2100, 0x22FF),  # letter-like signs, arrows, mathematics
    (0x25A0, 0x25FF),  # geometric shapes
    (0xFFFD, 0xFFFD),
)
PRIVATE = range(0xE000, 0xF900)


def smaller(source: Path, target: Path, ranges: tuple[tuple[int, int], ...] = ()) -> None:
    """Without hinting, and with the characters of `ranges` only (none: all of them)."""
    options = subset.Options(hinting=False, layout_features=["*"], name_IDs=["*"], notdef_outline=True)
    font = subset.load_font(str(source), options)
    wanted = [point for first, last in ranges for point in range(first, last + 1)] or list(font.getBestCmap())
    job = subset.Subsetter(options)
    job.populate(unicodes=wanted)
    job.subset(font)
    subset.save_font(font, str(target), options)


def coverage() -> list[list[int]]:
    """First and last of each run of characters that one of the fonts can draw."""
    points = {point for path in TARGET.glob("*.ttf") for point in TTFont(path).getBestCmap()}
    runs: list[list[int]] = []
    for point in sorted(point for point in points if point >= 0x20 and point not in PRIVATE):
        if runs and runs[-1][1] == point - 1:
            runs[-1][1] = point
        else:
            runs.append([point, point])
    return runs


def main(folder: Path) -> None:
    for weight in ("Regular", "Bold"):
        smaller(folder / NOTO / f"NotoSans-{weight}.ttf", TARGET / f"NotoSans-{weight}.ttf", EUROPEAN)
        for script in ("Arabic", "Hebrew"):
            name = f"NotoSans{script}-{weight}.ttf"
            smaller(folder / NOTO / name, TARGET / name)
    smaller(folder / DROID / "DroidSansFallbackFull.ttf", TARGET / "DroidSansFallback.ttf")
    lines = ",\n".join(json.dumps(run) for run in coverage())
    (TARGET / "coverage.json").write_text(f"[{lines}]\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
