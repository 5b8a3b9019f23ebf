"""Rules of thumb in words: each rule, its source, and the verdict on it."""

from __future__ import annotations

from typing import Literal

from pipeline.decisions.records import MaximTrial
from pipeline.decisions.wording.terms import interval, percent, pins_a_game, plural

RuleName = Literal[
    "long_higher_rg",
    "long_inside",
    "short_outside",
    "short_no_high_rg",
    "heavy_low_rg",
    "heavy_high_differential",
    "heavy_dull",
    "light_high_rg",
    "light_low_differential",
    "light_polished",
    "heavy_solid",
    "fresh_urethane",
    "short_urethane",
    "fresh_higher_rg",
    "long_no_urethane",
    "urethane_fades",
    "fresh_benchmark",
    "late_weaker_cover",
    "late_inside",
    "rule_of_31",
]

_RULES: dict[RuleName, str] = {
    "long_higher_rg": "On long patterns a higher RG with enough differential beats a low RG.",
    "long_inside": "On long patterns play closer to the head pin.",
    "short_outside": "On short patterns play nearer the gutter.",
    "short_no_high_rg": "On short patterns leave the very high RG in the bag.",
    "heavy_low_rg": "On heavy oil use a low RG.",
    "heavy_high_differential": "On heavy oil use a high differential.",
    "heavy_dull": "On heavy oil use more surface.",
    "light_high_rg": "On light oil use a high RG.",
    "light_low_differential": "On light oil use a low differential.",
    "light_polished": "On light oil use less surface.",
    "heavy_solid": "A solid cover beats a pearl on heavy oil.",
    "fresh_urethane": "Urethane gives a rev-dominant bowler control on the fresh.",
    "short_urethane": "Urethane gives a rev-dominant bowler control on short patterns.",
    "fresh_higher_rg": "A medium to high RG gives a rev-dominant bowler control on the fresh.",
    "long_no_urethane": "Put urethane away on long patterns.",
    "urethane_fades": "Urethane loses carry as the pattern breaks down.",
    "fresh_benchmark": "Start on the benchmark ball.",
    "late_weaker_cover": "Ball down to a weaker cover as the pattern breaks down.",
    "late_inside": "Move in as the pattern breaks down.",
    "rule_of_31": "Rule of 31: leave the pattern near the board of its length minus 31.",
}


def rule_text(name: RuleName) -> str:
    """The rule in words."""
    return _RULES[name]


def rule_source(from_memory: bool) -> str:
    """The source of a rule."""
    return "common practice, from memory" if from_memory else "common practice"


def not_tested_sentence(thin: int) -> str:
    """Why a rule was not tested; ``thin``: shots on its thinner side."""
    why = f"{plural(thin, 'shot')} on its thinner side" if thin else "no shots that could tell"
    return f"Not tested: {why}."


def trial_sentence(trial: MaximTrial, bowlers: int | None) -> str:
    """The verdict on a rule tested, how sure, and by how much.

    ``bowlers``: those it could be tried on, for a trial of everyone; None for one bowler's.
    """
    if trial.pins is None:
        return not_tested_sentence(0)
    bowlers_meant = "you" if bowlers is None else f"the {plural(bowlers, 'bowler')} it could be tried on"
    likely = trial.probability
    numbers = f"{pins_a_game(trial.pins.mean)} ({interval(trial.pins)}, {plural(trial.shots, 'shot')})"
    if trial.verdict == "holds for you":
        return f"Holds for {bowlers_meant}, {percent(likely)} likely: {numbers}."
    if trial.verdict == "does not hold":
        return f"Does not hold for {bowlers_meant}, {percent(1 - likely)} likely: {numbers}."
    return f"Inconclusive for {bowlers_meant} ({percent(likely)} likely to hold): {numbers}."
