"""Colours of the reports: one set for light, one for dark, and the one scale of worth all charts share.

Charts are drawn with the light colours as literal values; the dark ones are swapped in by style rules that look
for those values, so a chart without any style sheet is still readable.
"""

from __future__ import annotations

from typing import Final

LIGHT: Final[dict[str, str]] = {
    "paper": "#f3f4f8",
    "card": "#ffffff",
    "ink": "#1c1b2e",
    "quiet": "#53566c",
    "rule": "#d2d4e0",
    "grid": "#e3e5ee",
    "zero": "#7c8097",
    "link": "#4a2391",
    "series1": "#5b2ca6",
    "series2": "#96620a",
    "series3": "#12343b",
    "gain": "#5a2d9f",
    "loss": "#8f5d08",
}

DARK: Final[dict[str, str]] = {
    "paper": "#13131d",
    "card": "#1c1c29",
    "ink": "#eae9f3",
    "quiet": "#b2b3c6",
    "rule": "#3a3b50",
    "grid": "#2b2c3e",
    "zero": "#888aa3",
    "link": "#c0acff",
    "series1": "#b296f7",
    "series2": "#e6b450",
    "series3": "#4f9a8f",
    "gain": "#b196f6",
    "loss": "#e6b34e",
}

WORTH_EDGES: Final[tuple[float, ...]] = (1.0, 4.0, 8.0, 14.0)
"""Pins per game at which the tint of a worth changes, the same either side of the bowler's own average."""

WORTH_LIGHT: Final[dict[str, str]] = {
    "loss4": "#dba63a",
    "loss3": "#e8c377",
    "loss2": "#f2dbab",
    "loss1": "#faf0da",
    "even": "#eaebf1",
    "gain1": "#ece5f8",
    "gain2": "#d6c8f0",
    "gain3": "#bda6e6",
    "gain4": "#a384d9",
}

WORTH_DARK: Final[dict[str, str]] = {
    "loss4": "#7c5a12",
    "loss3": "#634912",
    "loss2": "#4c3a12",
    "loss1": "#362c15",
    "even": "#2a2b3a",
    "gain1": "#2f2850",
    "gain2": "#3e3170",
    "gain3": "#503d91",
    "gain4": "#644bb0",
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
