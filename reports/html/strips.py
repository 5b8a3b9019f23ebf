"""Small drawings that sit in a table row: an interval strip, and a row of ticks for how sure an answer is."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from pipeline.decisions.records import Estimate
from reports.style import wording

WIDTH = 168.0
HEIGHT = 22.0
_PAD = 5.0


@dataclass(frozen=True)
class Scale:
    """A linear scale shared by every strip of a column; ``mark`` is the reference value."""

    low: float
    high: float
    mark: float | None = 0.0

    def place(self, value: float) -> float:
        """Position of a value in drawing units, clipped to the strip."""
        share = (value - self.low) / (self.high - self.low)
        return _PAD + min(max(share, 0.0), 1.0) * (WIDTH - 2 * _PAD)


def scale_for(estimates: list[Estimate], mark: float | None = 0.0) -> Scale:
    """A scale that holds every 80 % interval and the mark; widest intervals may be cut at the 95 % ends."""
    values = [value for item in estimates for value in (item.lo80, item.hi80)]
    if mark is not None:
        values.append(mark)
    if not values:
        return Scale(-1.0, 1.0, mark)
    low, high = min(values), max(values)
    room = max((high - low) * 0.06, 1e-6)
    return Scale(low - room, high + room, mark)


def strip(estimate: Estimate, scale: Scale, tip: str = "", higher_is_better: bool = True) -> Markup:
    """An estimate as nested bars (95, 80 and 50 %) with a mark at the mean.

    The colour says whether the 80 % interval lies wholly on the better or the worse side of the mark.
    """
    middle = HEIGHT / 2
    bars = "".join(
        _bar(scale.place(low), scale.place(high), middle, thick, name)
        for low, high, thick, name in (
            (estimate.lo95, estimate.hi95, 1.6, "i95"),
            (estimate.lo80, estimate.hi80, 5.0, "i80"),
            (estimate.lo50, estimate.hi50, 10.0, "i50"),
        )
    )
    mark = ""
    if scale.mark is not None:
        x = scale.place(scale.mark)
        mark = f'<line class="strip-mark" x1="{x:.1f}" x2="{x:.1f}" y1="0" y2="{HEIGHT:g}"/>'
    x = scale.place(estimate.mean)
    dot = f'<line class="strip-mean" x1="{x:.1f}" x2="{x:.1f}" y1="{middle - 7:g}" y2="{middle + 7:g}"/>'
    side = _side(estimate, scale.mark, higher_is_better)
    return Markup('<svg class="strip {}" viewBox="0 0 {} {}" aria-hidden="true" focusable="false"{}>{}</svg>').format(
        side,
        f"{WIDTH:g}",
        f"{HEIGHT:g}",
        Markup(' data-tip="{}"').format(tip) if tip else "",
        Markup(mark + bars + dot),
    )


def sample() -> Markup:
    """A strip as it looks if the 80 % lies above the mark, for the key of a page."""
    drawn = strip(Estimate(mean=5, lo50=3.6, hi50=6.4, lo80=2.2, hi80=7.8, lo95=0.6, hi95=9.4), Scale(0.0, 10.0, 1.2))
    return Markup('<span class="sample">{}</span>').format(drawn)


def tip(estimate: Estimate, unit: str, shots: int | None, digits: int = 1) -> str:
    """The tip of a strip: mean, the three intervals and the shots."""
    numbers = [
        wording.plain(value, digits)
        for value in (
            estimate.mean,
            estimate.lo50,
            estimate.hi50,
            estimate.lo80,
            estimate.hi80,
            estimate.lo95,
            estimate.hi95,
        )
    ]
    mean, lo50, hi50, lo80, hi80, lo95, hi95 = numbers
    tail = f"; {wording.shots(shots)}" if shots is not None else ""
    return f"{mean} {unit}; 50 %: {lo50} to {hi50}; 80 %: {lo80} to {hi80}; 95 %: {lo95} to {hi95}{tail}"


def ticks(probability: float) -> Markup:
    """Ten ticks, filled in proportion: how many times in ten the answer would hold."""
    full = round(10 * min(max(probability, 0.0), 1.0))
    marks = "".join(
        f'<rect class="{"tick-on" if order < full else "tick-off"}" x="{order * 6}" y="0" width="4" height="12"/>'
        for order in range(10)
    )
    return Markup(
        '<svg class="ticks" viewBox="0 0 58 12" width="58" height="12" aria-hidden="true" focusable="false">'
        f"{marks}</svg>"
    )


def _side(estimate: Estimate, mark: float | None, higher_is_better: bool) -> str:
    if mark is None or estimate.lo80 <= mark <= estimate.hi80:
        return "flat"
    return "better" if (estimate.lo80 > mark) == higher_is_better else "worse"


def _bar(one: float, other: float, middle: float, thick: float, name: str) -> str:
    low, high = sorted((one, other))  # a scale may run from high to low
    return (
        f'<rect class="{name}" x="{low:.1f}" y="{middle - thick / 2:g}" '
        f'width="{max(high - low, 0.8):.1f}" height="{thick:g}"/>'
    )
