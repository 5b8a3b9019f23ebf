"""Colours of the reports: one set for paper, one for a dark room, and the one scale of worth all charts share.

Charts are drawn with the light colours as literal values; the dark ones are swapped in by style rules that look
for those values, so a chart without any style sheet is still readable.
"""

from __future__ import annotations

from typing import Final

LIGHT: Final[dict[str, str]] = {
    "paper": "#fbf8f1",
    "card": "#fffefb",
    "ink": "#24282e",
    "quiet": "#575c63",
    "rule": "#ddd5c5",
    "grid": "#e9e3d6",
    "zero": "#8b8577",
    "link": "#0d5a63",
    "series1": "#12647c",
    "series2": "#b24f14",
    "series3": "#3d1a5b",
    "gain": "#0b6f7a",
    "loss": "#a8470f",
}

DARK: Final[dict[str, str]] = {
    "paper": "#16191d",
    "card": "#1e2227",
    "ink": "#ece7dc",
    "quiet": "#b3b0a8",
    "rule": "#3c424a",
    "grid": "#2e343b",
    "zero": "#8a8d90",
    "link": "#7fd0da",
    "series1": "#62c6df",
    "series2": "#f39a5f",
    "series3": "#8f7ae8",
    "gain": "#5fc9d3",
    "loss": "#f39a5f",
}

WORTH_EDGES: Final[tuple[float, ...]] = (1.0, 4.0, 8.0, 14.0)
"""Pins per game at which the tint of a worth changes, the same either side of the bowler's own average."""

WORTH_LIGHT: Final[dict[str, str]] = {
    "loss4": "#e39a64",
    "loss3": "#efb98e",
    "loss2": "#f6d5b8",
    "loss1": "#fbebdc",
    "even": "#f1ede4",
    "gain1": "#e0efee",
    "gain2": "#bfdfe0",
    "gain3": "#92cacd",
    "gain4": "#66b3b9",
}

WORTH_DARK: Final[dict[str, str]] = {
    "loss4": "#8a4413",
    "loss3": "#6d3a16",
    "loss2": "#523017",
    "loss1": "#3a2819",
    "even": "#2b2f34",
    "gain1": "#1d3336",
    "gain2": "#194448",
    "gain3": "#14565c",
    "gain4": "#0f6a71",
}

SERIES: Final[tuple[str, ...]] = ("series1", "series2", "series3")
DASHES: Final[tuple[tuple[int, ...], ...]] = ((1, 0), (7, 3), (2, 3))
SHAPES: Final[tuple[str, ...]] = ("circle", "square", "triangle-up")


def worth_tone(pins: float) -> str:
    """Name of the tint for a worth in pins per game against the bowler's own average."""
    step = sum(abs(pins) >= edge for edge in WORTH_EDGES)
    if step == 0:
        return "even"
    return f"{'gain' if pins > 0 else 'loss'}{step}"


def style_rules() -> str:
    """Custom properties for both schemes and the rules that recolour charts in the dark."""
    light = _properties(LIGHT | WORTH_LIGHT)
    dark = _properties(DARK | WORTH_DARK)
    swaps = "".join(_swap(name) for name in LIGHT)
    tints = "".join(f".tone-{name}{{background:var(--{name})}}" for name in WORTH_LIGHT)
    return (
        f":root{{color-scheme:light;{light}}}"
        f"@media screen and (prefers-color-scheme:dark){{:root:not([data-scheme=light]){{color-scheme:dark;{dark}}}}}"
        f"@media screen{{:root[data-scheme=dark]{{color-scheme:dark;{dark}}}}}{swaps}{tints}"
    )


def _properties(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{value};" for name, value in colours.items())


def _swap(name: str) -> str:
    value = LIGHT[name]
    return f'.plot [fill="{value}"]{{fill:var(--{name})}}.plot [stroke="{value}"]{{stroke:var(--{name})}}'
