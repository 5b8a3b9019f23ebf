"""The answer first: which ball and which line to start with on each pattern class."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.decisions.records import GainOverNow, PhaseAdvice, Policy
from reports.context import ReportContext, pattern_order
from reports.html import strips
from reports.html.components import Bit, Cell, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, only, place, tags

_COLUMNS = [
    "pattern",
    "first ball and line",
    "gain over now, pins per game (80 %)",
    "chance it is the best ball",
    "shots",
]


@dataclass(frozen=True)
class FirstBalls:
    """One bowler's answers: a bit and a row per pattern class."""

    digest: list[Bit]
    table: Table


@dataclass(frozen=True)
class FirstBall:
    """How to start on one pattern class, with the address of the card that says why."""

    advice: PhaseAdvice
    policy: Policy
    link: str
    tags: Tags


def at_a_glance(context: ReportContext) -> dict[str, list[FirstBall]]:
    """Bowler -> how to start on each pattern class, short to long; classes without an answer are left out."""
    by_bowler = grouped(context.decisions.playbook, lambda item: item.bowler)
    first = {}
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        named = [_named(item, item.policy) for item in first_phases(by_bowler[bowler]) if item.policy is not None]
        if named:
            first[bowler] = named
    return first


def _named(item: PhaseAdvice, policy: Policy) -> FirstBall:
    card = place("answer", item.bowler, item.pattern_class, item.phase)
    # The first phase is all that is meant, so the filter's phase does not hide it.
    shown = tags(item.bowler, item.pattern_class, shots=policy.shots)
    return FirstBall(item, policy, f"season.html#{card}&{only(item.bowler)}", shown)


def first_phases(items: list[PhaseAdvice]) -> list[PhaseAdvice]:
    """One bowler's answers for the first phase of each pattern class, short to long."""
    by_pattern = grouped(items, lambda item: item.pattern_class)
    return [
        min(by_pattern[pattern], key=lambda item: item.from_game) for pattern in sorted(by_pattern, key=pattern_order)
    ]


def first_balls(context: ReportContext) -> dict[str, FirstBalls]:
    """Bowler -> the first choice on each pattern class, short to long, as the bowler's cards play it."""
    by_bowler = grouped(context.decisions.playbook, lambda item: item.bowler)
    gains = [
        item.gain_over_now.gain for item in context.decisions.playbook if item.from_game == 1 and item.gain_over_now
    ]
    scale = strips.scale_for(gains)
    shown = {}
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        first = first_phases(by_bowler[bowler])
        shown[bowler] = FirstBalls(_digest(first), _table(context, bowler, first, scale))
    return shown


def _digest(first: list[PhaseAdvice]) -> list[Bit]:
    bits = [_bit(item, item.policy) for item in first if item.policy]
    return bits or [Bit("", "not enough shots")]


def _bit(item: PhaseAdvice, policy: Policy) -> Bit:
    """The ball, where to start, the gain and how surely it is the best."""
    parts, tip = [start(policy)], []
    if item.gain_over_now is not None:
        gain = item.gain_over_now.gain
        parts.append(wording.signed(gain.mean) if gain.mean >= wording.LEAST_GAIN else "no gain")
        tip.append(f"{wording.signed(gain.mean)} pins per game over what is thrown now ({wording.interval(gain)})")
    if policy.p_best is not None:
        tip.append(f"{wording.in_hundred(policy.p_best)} the best ball")
    note, name = ", ".join(part for part in parts if part), wording.shorten(policy.ball_name, 24)
    return Bit(item.pattern_class, name, note, "; ".join([*tip, wording.shots(policy.shots)]), item.pattern_class)


def start(policy: Policy) -> str:
    """``on second arrow``, or ``from board 19``; empty if no board was logged."""
    if policy.keeps_line:
        return f"on {policy.line}"
    return "" if policy.start_board is None else f"from board {wording.plain(policy.start_board, 0)}"


def _table(context: ReportContext, bowler: str, first: list[PhaseAdvice], scale: strips.Scale) -> Table:
    rows = [Row(_cells(item, scale), tags(bowler, item.pattern_class)) for item in first]
    caption = f"{context.name(bowler)}: what to throw first, pins per game over what is thrown now"
    return Table(f"first-{bowler}", caption, _COLUMNS, rows)


def _cells(item: PhaseAdvice, scale: strips.Scale) -> list[Cell]:
    pattern, policy, now = common.text(item.pattern_class), item.policy, item.gain_over_now
    if policy is None:
        return [pattern, Cell("not enough shots", "", kind="prose"), Cell(""), Cell(""), Cell("")]
    return [
        pattern,
        Cell(policy.ball_name, policy.ball_name, note=played(policy), kind="prose choice"),
        _gain(now, scale, policy.shots),
        common.chance(policy.p_best),
        common.shots_cell(policy.shots),
    ]


def _gain(now: GainOverNow | None, scale: strips.Scale, shots: int) -> Cell:
    """The gain over what is thrown now; one that is none is called so."""
    if now is None:
        return Cell("not known")
    cell = common.pins(now.gain, scale, shots)
    return cell if now.gain.mean >= wording.LEAST_GAIN else replace(cell, text="no gain")


def played(policy: Policy) -> str:
    """``stay on second arrow``, or ``from board 19, moving with the lane``."""
    if policy.keeps_line:
        return f"stay on {policy.line}"
    if policy.start_board is None:
        return "moving with the lane"
    return f"from board {wording.plain(policy.start_board, 0)}, moving with the lane"
