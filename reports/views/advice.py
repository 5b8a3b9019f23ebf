"""The few things most worth doing, drawn from every part of the season, each with how sure and how many shots."""

from __future__ import annotations

from collections import Counter

from pipeline.decisions.records import BallVerdict, PhaseAdvice, PracticeFocus
from reports.context import ReportContext
from reports.html.components import Advice
from reports.views.common import tags

MOST = 5
SPARE = 15
"""How many more are kept ready for when the filter hides some of the first."""
SURE_ENOUGH = 0.65
_WORTH_SAYING = 1.0  # pins per game above the bowler's own average
_MOST_OF_A_KIND = {"On the lanes": 3, "In the bag": 2, "In practice": 1}


def best_advice(context: ReportContext, bowler: str | None = None) -> list[Advice]:
    """Things to do, most expected pins first, for everyone or for one bowler; the first five are shown.

    Expected pins are the pins per game at stake times the probability that the advice is right. Advice that is less
    likely right than 65 in 100 is left out, and no kind may fill the first five.
    """
    found = [item for item in _candidates(context) if bowler is None or item.tags.bowler == bowler]
    found = [item for item in found if item.probability >= SURE_ENOUGH and item.pins > 0]
    found.sort(key=lambda item: item.pins * item.probability, reverse=True)
    chosen: list[Advice] = []
    kinds: Counter[str] = Counter()
    for item in found:
        if kinds[item.kind] < _MOST_OF_A_KIND[item.kind]:
            chosen.append(item)
            kinds[item.kind] += 1
    first = chosen[:MOST]
    return first + [item for item in found if item not in first][:SPARE]


def _candidates(context: ReportContext) -> list[Advice]:
    decisions = context.decisions
    found = [_from_playbook(item) for item in decisions.playbook]
    found += [_from_arsenal(item) for item in decisions.arsenal]
    found += [_from_focus(item) for item in decisions.focus]
    return [item for item in found if item is not None]


def _from_playbook(item: PhaseAdvice) -> Advice | None:
    if item.best is None or item.best.p_best is None or item.margin is None or item.verdict == "not enough shots":
        return None
    if item.best.worth.mean < _WORTH_SAYING:  # the least bad of poor choices is no good news
        return None
    return Advice(
        item.sentence,
        "On the lanes",
        item.best.p_best,
        "the best choice",
        item.best.shots,
        item.margin.mean,
        "season.html#playbook",
        tags(item.bowler, item.pattern_class, item.phase, item.best.shots),
    )


def _from_arsenal(item: BallVerdict) -> Advice | None:
    if item.verdict in ("keep", "not enough shots"):
        return None
    return Advice(
        item.sentence,
        "In the bag",
        item.probability,
        "the best care",
        item.shots,
        item.at_stake.mean,
        "arsenal.html#verdicts",
        tags(item.bowler, shots=item.shots),
    )


def _from_focus(item: PracticeFocus) -> Advice | None:
    return Advice(
        item.sentence,
        "In practice",
        item.p_best,
        "the best focus",
        item.shots,
        item.pins_if_class_best.mean,
        "students.html#focus",
        tags(item.bowler, shots=item.shots),
    )
