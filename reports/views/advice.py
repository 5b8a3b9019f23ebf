"""The few things most worth doing, drawn from every part of the season, each with how sure and how many shots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from pipeline.decisions.records import ArsenalTask, BowlerCard, GainOverNow, PhaseAdvice, Policy, PracticeFocus
from pipeline.decisions.wording.ball_care import grit_in_words
from pipeline.decisions.wording.focus import aim
from reports.context import ReportContext
from reports.html.components import Advice
from reports.style import wording
from reports.views.common import only, place, tags

MOST = 5
SPARE = 15
"""How many more are kept ready for when the filter hides some of the first."""
SURE_ENOUGH = 0.65
_WORTH_SAYING = 0.3  # pins per game over what the bowler throws now; less is no advice
_MOSTLY = 0.5  # share of what is thrown from which the advice is to go on
_MOST_OF_A_KIND = {"On the lanes": 3, "In the bag": 2, "In practice": 1}


def best_advice(context: ReportContext, bowler: str | None = None) -> list[Advice]:
    """Things to do, most pins per season first, for everyone or for one bowler; the first five are shown.

    Pins a season are the mean gain over what the bowler does now times the games it concerns: one currency for lanes,
    bag and practice. What is less likely to gain than 65 in 100 is left out, and no kind may fill the first five.
    """
    advice = [item for item in candidates(context) if bowler is None or item.tags.bowler == bowler]
    advice = [item for item in advice if item.probability >= SURE_ENOUGH and item.pins > 0]
    advice.sort(key=lambda item: item.pins, reverse=True)
    picked: list[Advice] = []
    kinds: Counter[str] = Counter()
    for item in advice:
        if kinds[item.kind] < _MOST_OF_A_KIND[item.kind]:
            picked.append(item)
            kinds[item.kind] += 1
    first = picked[:MOST]
    return first + [item for item in advice if item not in first][:SPARE]


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
        "to beat what is thrown now",
        item.policy.shots,
        now.pins_a_season,
        f"season.html#{place('answer', item.bowler, item.pattern_class, item.phase)}&{only(item.bowler)}",
        tags(item.bowler, item.pattern_class, item.phase, item.policy.shots),
        "there",
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
    return text if item.due.date is None else f"{text} by {item.due.date.isoformat()}"


def _from_arsenal(item: ArsenalTask, benched: bool) -> Advice | None:
    done = next((option for option in item.options if option.act == item.do), None)
    if done is None or done.p_gain is None:
        return None
    return Advice(
        f"{care(item)}, if you still throw it" if benched else care(item),
        "In the bag",
        done.gain,
        done.p_gain,
        "to beat keeping it as it is",
        item.shots,
        item.pins_a_season,
        f"arsenal.html#{place('ball', item.bowler, item.ball)}&{only(item.bowler)}",
        tags(item.bowler, shots=item.shots),
        "with it",
    )


def _from_focus(item: PracticeFocus, card: BowlerCard, p_behind: float | None) -> Advice | None:
    """``p_behind``: how likely there is something to gain by practising it at all; None if nobody compares."""
    return Advice(
        f"Practise {aim(item.skill)}",
        "In practice",
        item.pins_if_class_best,
        item.p_best if p_behind is None else p_behind,
        "the best focus" if p_behind is None else "to gain",
        item.shots,
        item.pins_if_class_best.mean * card.games,
        f"students.html#{place('focus', item.bowler)}&{only(item.bowler)}",
        tags(item.bowler, shots=item.shots),
    )
