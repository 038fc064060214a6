"""The few colours of print, and how far apart they are."""

from __future__ import annotations

INK = "#1d1a16"
PAPER = "#faf7f0"
WHITE = "#ffffff"
RULE = "#cfc7b8"
WASH = "#efeade"
# The dye the plants' name stands for; only for what closes within seven days and the one thing to do next.
MADDER = "#8c1c3a"
# Second voice: footers and captions. Still above 7:1 on white and on paper.
SOFT = "#4a443b"
NIGHT = {
    "paper": "#14120f",
    "ink": "#efe9dd",
    "soft": "#c9c1b2",
    "rule": "#4a443b",
    "wash": "#2a2620",
    "accent": "#f08aa6",
}


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`, 0 to 1 (WCAG 2.2, relative luminance)."""
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, contrast ratio)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)
