"""The few things most worth doing, drawn from every part of the season, each with how sure and how many shots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.decisions.records import ArsenalTask, BowlerCard, GainOverNow, PhaseAdvice, Policy, PracticeFocus
from pipeline.decisions.wording.ball_care import grit_in_words
from pipeline.decisions.wording.focus import skill_name
from reports.context import ReportContext
from reports.html.components import Advice
from reports.style import wording
from reports.views.common import day, only, place, tags

SPARE = 15
"""How many more of a kind are kept ready for when the filter hides some of the first."""
SURE_ENOUGH = 0.65
_WORTH_SAYING = 0.3  # pins per game over what the bowler throws now; less is no advice
_MOSTLY = 0.5  # share of what is thrown from which the advice is to go on


@dataclass(frozen=True)
class Kind:
    """One kind of advice: its heading, what its gains are counted against, and how many are shown."""

    name: str
    against: str
    most: int


KINDS = (
    Kind("On the lanes", "against what is thrown now", 3),
    Kind("In the bag", "against keeping the ball as it is", 3),
    Kind("In practice", "if as good as the best quarter of the class", 3),
)


def best_advice(context: ReportContext, bowler: str | None = None) -> list[tuple[Kind, list[Advice]]]:
    """Things to do for everyone or for one bowler, by kind and most pins per season first.

    Pins per season are the mean gain times the games it concerns. Kinds stand apart, as their gains are counted
    against different things. What is less likely to gain than 65 in 100 is left out.
    """
    advice = [item for item in candidates(context) if bowler is None or item.tags.bowler == bowler]
    advice = [item for item in advice if item.probability >= SURE_ENOUGH and item.pins > 0]
    advice.sort(key=lambda item: item.pins, reverse=True)
    return [(kind, [item for item in advice if item.kind == kind.name][: kind.most + SPARE]) for kind in KINDS]


def candidates(context: ReportContext) -> list[Advice]:
    """Everything that could be advised to anybody, likely to gain or not."""
    decisions = context.decisions
    cards = {card.bowler: card for card in decisions.summary.bowlers}
    names = {combo.ball: combo.ball_name for combo in decisions.combos}
    advice = [_from_the_lanes(item, names) for item in decisions.playbook]
    benched = given_up(decisions.playbook)
    advice += [_from_arsenal(item, item.ball in benched) for item in decisions.arsenal_tasks if item.bowler in cards]
    behind = {(item.bowler, str(item.skill)): item.p_win_back for item in decisions.skills}
    advice += [
        _from_focus(item, cards[item.bowler], behind.get((item.bowler, item.skill)))
        for item in decisions.focus
        if item.bowler in cards
    ]
    return [item for item in advice if item is not None]


def given_up(playbook: Sequence[PhaseAdvice]) -> set[str]:
    """Balls that the advice replaces somewhere and asks for nowhere."""
    asked = {item.policy.ball for item in playbook if item.policy is not None}
    replaced = {item.gain_over_now.instead_of_ball for item in playbook if item.gain_over_now is not None}
    return {ball for ball in replaced if ball is not None} - asked


def _from_the_lanes(item: PhaseAdvice, names: dict[str, str]) -> Advice | None:
    now = item.gain_over_now
    if item.policy is None or now is None or now.gain.mean < _WORTH_SAYING:
        return None
    return Advice(
        _throw(item, item.policy, now, names),
        "On the lanes",
        now.gain,
        now.p_gain,
        item.policy.shots,
        now.pins_a_season,
        f"season.html#{place('answer', item.bowler, item.pattern_class, item.phase)}&{only(item.bowler)}",
        tags(item.bowler, item.pattern_class, item.phase, item.policy.shots),
    )


def _throw(item: PhaseAdvice, policy: Policy, now: GainOverNow, names: dict[str, str]) -> str:
    """``Long, games 3 to 4: Trivet from about board 20, not the Hearth Brush``."""
    where = f"{wording.sentence_case(item.pattern_class)}, {wording.span(item.from_game, item.to_game)}"
    if policy.keeps_line:
        how = f", staying on the {policy.line}"
    else:
        how = "" if policy.start_board is None else f" from about board {policy.start_board:.0f}"
    if now.instead_of_ball is None or now.share_now >= _MOSTLY:
        return f"{where}: {policy.ball_name}{how}, more often"
    same = now.instead_of_ball == policy.ball
    other = f"the {now.instead_of_line}" if same else f"the {names.get(now.instead_of_ball, now.instead_of_ball)}"
    return f"{where}: {policy.ball_name}{how}, not {other}"


def care(item: ArsenalTask) -> str:
    """``Chutney: resurface to 2000 grit by 2026-08-16``."""
    text = f"{item.ball_name}: {item.do}"
    if item.do != "resurface":
        return text
    grit = grit_in_words(item.grit)
    text += f" to {grit}" if grit else ""
    if item.due.games == 0:
        return f"{text} now"
    return text if item.due.date is None else f"{text} by {day(item.due.date)}"


def _from_arsenal(item: ArsenalTask, benched: bool) -> Advice | None:
    done = next((option for option in item.options if option.act == item.do), None)
    if done is None or done.p_gain is None:
        return None
    return Advice(
        f"{care(item)}, if you still throw it" if benched else care(item),
        "In the bag",
        done.gain,
        done.p_gain,
        item.shots,
        item.pins_a_season,
        f"arsenal.html#{place('ball', item.bowler, item.ball)}&{only(item.bowler)}",
        tags(item.bowler, shots=item.shots),
    )


def _from_focus(item: PracticeFocus, card: BowlerCard, p_behind: float | None) -> Advice | None:
    """``p_behind``: how likely there is something to gain by practising it at all; None if nobody compares."""
    return Advice(
        f"Practise {skill_name(item.skill)}",
        "In practice",
        item.pins_if_class_best,
        item.p_best if p_behind is None else p_behind,
        item.shots,
        item.pins_if_class_best.mean * card.games,
        f"students.html#{place('focus', item.bowler)}&{only(item.bowler)}",
        tags(item.bowler, shots=item.shots),
    )
