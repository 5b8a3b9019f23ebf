"""A plan in words: the sentence of its record, and plain lines for a terminal."""

from __future__ import annotations

from pipeline.decisions.results import BlockPlan, PlanStep
from pipeline.decisions.words import percent, pins_a_game, plural, signed, with_ball


def plan_text(plan: BlockPlan) -> str:
    """The plan as plain lines for a terminal."""
    oil = f"{plan.length_ft:g} ft"
    oil += "" if plan.volume_ml is None else f", {plan.volume_ml:g} mL"
    oil += "" if plan.ratio is None else f", {plan.ratio:g}:1"
    lines = [f"{plan.bowler}: {plural(plan.games, 'game')} on {oil} ({plan.pattern_class})", plan.sentence, ""]
    for step in plan.steps:
        lines.append(f"  {_games(step)}: {with_ball(step.ball_name, step.line)}, {_worth(step)}")
        lines += [f"    {step.trigger}"] if step.trigger else []
    if plan.backup is not None:
        lines.append(f"  Backup: {with_ball(plan.backup.ball_name, plan.backup.line)}, {_worth(plan.backup)}")
        lines.append(f"    {plan.backup.trigger}")
    lines += [
        "",
        f"Expected average {plan.score.mean:.0f} (80 % interval {plan.score.lo80:.0f} to {plan.score.hi80:.0f});",
    ]
    lines[-1] += f" {percent(plan.p_200)} of games at 200 or more. Unlike the patterns logged: {plan.novelty:.1f}"
    lines[-1] += " (0 like one of them, 1 as far as its neighbours are apart)."
    return "\n".join(lines)


def _worth(step: PlanStep) -> str:
    value = step.worth
    return (
        f"{pins_a_game(value.mean)} (80 % interval {signed(value.lo80)} to {signed(value.hi80)}, "
        f"{plural(step.shots, 'shot')}, {percent(step.p_best)} likely the best)"
    )


def _games(step: PlanStep) -> str:
    return f"Game {step.from_game}" if step.from_game == step.to_game else f"Games {step.from_game} to {step.to_game}"


def plan_sentence(
    steps: list[PlanStep],
    backup: PlanStep | None,
    average: float,
    low: float,
    high: float,
    distance: float,
    length: float,
) -> str:
    """The plan in two sentences; ``average`` with its 80 % interval, ``distance`` the novelty."""
    start = steps[0]
    text = f"On {length:g} ft start with {with_ball(start.ball_name, start.line)}, worth {_worth(start)}"
    text += (
        "; expect no better choice later"
        if len(steps) == 1
        else f"; {steps[0].trigger[0].lower()}{steps[0].trigger[1:-1]}"
    )
    text += f". Expect an average of {average:.0f} (80 % interval {low:.0f} to {high:.0f})."
    if distance >= 1:
        text += " No pattern logged is like it, so the intervals are wide."
    return text
