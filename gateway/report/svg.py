"""A few SVG shapes as text. Every coordinate has one decimal, so that the same drawing is the same bytes."""

from collections.abc import Iterable
from html import escape

Point = tuple[float, float]
Piece = tuple[float, float, float, float]


def line(x1: float, y1: float, x2: float, y2: float, stroke: str, width: float = 0.7, dash: str = "") -> str:
    """A straight line."""
    return lines([(x1, y1, x2, y2)], stroke, width, dash)


def lines(pieces: Iterable[Piece], stroke: str, width: float = 0.7, dash: str = "") -> str:
    """Straight lines of one kind as one path, which keeps the file small; "" for none."""
    strokes = "".join(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" for x1, y1, x2, y2 in pieces)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{strokes}" fill="none" stroke="{stroke}" stroke-width="{width}"{dashes}/>' if strokes else ""


def curve(points: Iterable[Point], stroke: str, width: float = 1, dash: str = "") -> str:
    """Straight pieces through points."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{_path(points)}" fill="none" stroke="{stroke}" stroke-width="{width}" '
        f'stroke-linejoin="round"{dashes}/>'
    )


def area(points: Iterable[Point], fill: str) -> str:
    """A filled outline."""
    return f'<path d="{_path(points)}Z" fill="{fill}"/>'


def box(x: float, y: float, width: float, height: float, fill: str, stroke: str = "none") -> str:
    """A rectangle."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}" '
        f'stroke="{stroke}" stroke-width="0.8"/>'
    )


def dots(points: Iterable[Point], size: float, stroke: str) -> str:
    """Equal discs as the round caps of strokes without length: a tenth of the bytes of circles."""
    strokes = "".join(f"M{x:.1f} {y:.1f}h.01" for x, y in points)
    if not strokes:
        return ""
    return f'<path d="{strokes}" fill="none" stroke="{stroke}" stroke-width="{size}" stroke-linecap="round"/>'


def crosses(points: Iterable[Point], radius: float, stroke: str) -> str:
    """Equal diagonal crosses, as one path."""
    strokes = "".join(
        f"M{x - radius:.1f} {y - radius:.1f}L{x + radius:.1f} {y + radius:.1f}"
        f"M{x - radius:.1f} {y + radius:.1f}L{x + radius:.1f} {y - radius:.1f}"
        for x, y in points
    )
    return f'<path d="{strokes}" fill="none" stroke="{stroke}" stroke-width="1.1"/>' if strokes else ""


def text(
    x: float, y: float, content: str, fill: str, size: float = 7, anchor: str = "start", bold: bool = False
) -> str:
    """One line of text; the font is set by the drawing."""
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{fill}" font-size="{size}" text-anchor="{anchor}"{weight}>'
        f"{escape(content)}</text>"
    )


def drawing(width: float, height: float, shapes: Iterable[str], title: str) -> str:
    """The whole picture with its text alternative."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
        f'height="{height:g}" font-family="Noto Sans, sans-serif" role="img"><title>{escape(title)}</title>'
        f"{''.join(shapes)}</svg>"
    )


def _path(points: Iterable[Point]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
