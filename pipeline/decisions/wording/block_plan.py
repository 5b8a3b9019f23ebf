"""A plan in words: the sentence of its record, and plain lines for a terminal."""

from __future__ import annotations

from pipeline.decisions.records import Bag, BlockPlan, Estimate, EventPlan, PlanStep
from pipeline.decisions.wording.policy import A_MOVE, boards_in_words
from pipeline.decisions.wording.terms import interval, percent, pins_a_game, plural, sentence, signed, with_ball

UNLIKE = 1.0
"""Typical distances from which a pattern is called unlike any logged."""


def plan_text(plan: BlockPlan) -> str:
    """The plan as plain lines for a terminal."""
    oil = f"{plan.length_ft:g} ft"
    oil += "" if plan.volume_ml is None else f", {plan.volume_ml:g} mL"
    oil += "" if plan.ratio is None else f", {plan.ratio:g}:1"
    name = "" if plan.pattern is None else f"{plan.pattern}, "
    lines = [f"{plan.bowler}: {plural(plan.games, 'game')} on {name}{oil} ({plan.pattern_class})", plan.sentence]
    lines += [plan.departs] if plan.departs else []
    lines.append("")
    for step in plan.steps:
        lines.append(f"  {sentence(games_of(step))}: {how_played(step)}, {_worth(step)}")
        lines += [f"    {step.trigger}"] if step.trigger else []
    if plan.backup is not None:
        lines.append(f"  Backup: {how_played(plan.backup)}, {_worth(plan.backup)}")
        lines.append(f"    {plan.backup.trigger}")
    average = plan.average
    lines += ["", f"The plan: {gain_in_words(plan.gain, plan.p_gain)}."]
    lines += [f"Expected average {average.mean:.0f} ({_with_luck(average)});"]
    lines[-1] += f" {percent(plan.p_200)} of games at 200 or more. {_likeness(plan.novelty)}"
    return "\n".join(lines)


def event_text(event: EventPlan) -> str:
    """Every round's plan, then the bag, as plain lines for a terminal."""
    parts = [plan_text(plan) for plan in event.rounds]
    if event.bag is not None:
        parts.append(bag_text(event.bag))
    return "\n\n".join(parts)


def bag_text(bag: Bag) -> str:
    """The balls to take and to leave, with what each adds."""
    lines = [f"Take {plural(len(bag.take), 'ball')}:"]
    for item in bag.take:
        without = f"without it {pins_a_game(-item.adds.mean, 1)}"
        planned = f"planned for {plural(item.games, 'game')}" if item.games else "planned for no game"
        lines.append(f"  {item.ball_name}: {without} ({_of(item.adds, -1)}), {planned}")
    if bag.spare_balls:
        lines.append(f"  and for spares: {', '.join(bag.spare_balls)}")
    if bag.leave:
        lines.append(f"Leave {plural(len(bag.leave), 'ball')}:")
        lines += [
            f"  {item.ball_name}: would add {pins_a_game(item.adds.mean, 1)} ({_of(item.adds)})" for item in bag.leave
        ]
        lines.append(f"Against taking every ball: {pins_a_game(-bag.lost.mean, 1)} ({_of(bag.lost, -1)}).")
    return "\n".join(lines)


def _of(value: Estimate, sign: int = 1) -> str:
    low, high = sorted((sign * value.lo80, sign * value.hi80))
    return f"80 % interval {signed(low, 1)} to {signed(high, 1)}"


def _worth(step: PlanStep) -> str:
    value = step.worth
    best = "" if step.p_best is None else f", {percent(step.p_best)} likely the best"
    return f"{pins_a_game(value.mean)} ({interval(value)}, {shots_behind(step)}{best})"


def shots_behind(step: PlanStep) -> str:
    """The shots a step rests on: ``54 shots``, or those on other patterns if none were on such."""
    if step.shots or not step.shots_elsewhere:
        return plural(step.shots, "shot")
    return f"no shot on such patterns, {step.shots_elsewhere:,} on others"


def _likeness(novelty: float) -> str:
    if novelty == 0:
        return "The pattern is one of those logged."
    far = f"{novelty:.1f} times the usual gap between patterns away from the nearest"
    return f"The pattern is {'unlike any logged' if novelty >= UNLIKE else 'much like one logged'} ({far})."


def _with_luck(average: Estimate) -> str:
    return f"80 % interval {average.lo80:.0f} to {average.hi80:.0f}, luck of the games included"


def how_played(step: PlanStep) -> str:
    """``the Heron from the second arrow, staying there`` or ``the Heron from about board 12, moving with the lane``."""
    if step.keeps_line:
        return f"{with_ball(step.ball_name, step.line)}, staying there"
    start = with_ball(step.ball_name, step.line)
    if step.start_board is not None:
        start = f"the {step.ball_name} from about board {step.start_board:.0f}"
    moved = step.boards_a_game or 0.0
    moves = f", usually {boards_in_words(abs(moved))} {'in' if moved > 0 else 'out'} per game"
    return f"{start}, moving with the lane{moves if abs(moved) >= A_MOVE else ''}"


def games_of(step: PlanStep) -> str:
    """The games of a step: ``games 1 to 4``, ``game 5``."""
    last = step.to_game
    return f"game {last}" if step.from_game == last else f"games {step.from_game} to {last}"


def departs_sentence(pattern_class: str, a_game: float, likely: float) -> str:
    """Why a plan leaves the balls of the season review: pins per game it gains, and the probability that it does."""
    return (
        f"This pattern asks for other balls than {pattern_class} patterns usually do: {pins_a_game(a_game, 1)} over "
        f"the season review's, {percent(likely)} likely better."
    )


def gain_in_words(gain: Estimate, p_gain: float) -> str:
    """``+3.1 pins per game over what you throw now (80 % interval -0.4 to +6.6), 87 % likely to gain``."""
    more = f"{pins_a_game(gain.mean, 1)} over what you throw now"
    return f"{more} ({interval(gain, 1)}), {percent(p_gain)} likely to gain"


def plan_sentence(
    steps: list[PlanStep], gain: Estimate, p_gain: float, average: Estimate, distance: float, length: float
) -> str:
    """The plan in a few sentences; ``gain`` over own throwing, ``average`` to expect, ``distance`` the novelty."""
    start = steps[0]
    parts = [f"On {length:g} ft start with {how_played(start)}."]
    if distance >= UNLIKE:
        parts.insert(0, "Nothing this bowler logged is like this pattern, so take the plan as a guess.")
    parts.append(f"The plan is worth {gain_in_words(gain, p_gain)}.")
    parts.append(f"Against the season's average the start is {_worth(start)}.")
    if start.trigger:
        parts.append(start.trigger)
    elif steps[-1].to_game > 1:
        parts.append("No later change is worth making.")
    return f"{' '.join(parts)} Expect an average of {average.mean:.0f} ({_with_luck(average)})."
