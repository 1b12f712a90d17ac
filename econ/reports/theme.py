"""The theme that figures, memo, workbook and page share: colours by what they mean, and sizes.

Three colours carry the meaning: the deep blue of fishing, the rust of the fallback, the
green of a fish recovered. They differ in hue for the eye and in lightness for a grey print
or a colour-blind reader; the three lie at least 1.6 apart in contrast, and each at least 3
from paper. Meaning never hangs on a colour alone: a line also has its own dash or mark, a
bar its own hatch, and every one of them a name beside it.

Contrast of two colours of relative luminance Y1 >= Y2 is (Y1 + 0.05)/(Y2 + 0.05), with
Y = 0.2126 R + 0.7152 G + 0.0722 B of the linear sRGB channels (WCAG 2.1, relative luminance
and contrast ratio).
"""

from __future__ import annotations

# Grounds and lines
PAPER = "#ffffff"
INK = "#1a1d21"  # text, axes, today's dot
MUTED = "#59616a"  # second text: sources, notes, money already spent
RULE = "#c9ced4"  # hairlines and grid
WASH = "#f1f3f5"  # ground of a table head or of a box

# Meaning
FISHING = "#1d3f72"
FALLBACK = "#a8481c"
RECOVERED = "#2fa08b"
BAND = "#d8e1ee"  # P10 to P90
FLAT = "#f4e6c3"  # limits within 2 % of the best
FISHING_TINT = "#7f93b5"
FALLBACK_TINT = "#d39a78"

# Text sizes [pt]
TITLE = 11.0
TEXT = 9.0
SMALL = 7.5
LINE = 1.8  # width of a line that carries a result [pt]
HAIR = 0.6  # width of a grid line [pt]

# Typefaces: the first is drawn in figures and PDF, the others stand in for it on a screen.
TYPEFACE = "DejaVu Sans"
SCREEN_TYPEFACES = '"DejaVu Sans", Verdana, "Segoe UI", sans-serif'


def luminance(colour: str) -> float:
    """Relative luminance [fraction] of a colour written #rrggbb.

    >>> luminance("#ffffff")
    1.0
    >>> luminance("#000000")
    0.0
    """
    channels = [int(colour[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio [1 to 21] of two colours written #rrggbb.

    >>> round(contrast("#ffffff", "#000000"), 6)
    21.0
    """
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
