"""Which balls to take: the bag of a given size with the highest worth over the rounds of an event, and what each adds.

The worth of a bag, round by round, with lines following the lane, is halfway between the plan made in advance and the
best ball of every game with hindsight, because the night shows some of what the log does not. Every
bag is tried; with very many balls, the one missed least is left out, one at a time. A ball's worth in the bag is what
the rounds lose without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import comb

import numpy as np

from pipeline.arrays import Draws
from pipeline.decisions.advice.change_cost import best_sequence
from pipeline.decisions.estimates import estimate
from pipeline.decisions.plan.choices import Options, PlanError
from pipeline.decisions.records import Bag, BagBall

_BAGS = 300  # bags tried; with more, balls are left at home one by one until there are no more
_SHOWN = 0.5  # share of hindsight's gain that the night shows in time; our own choice


def pack(rounds: Sequence[Options], count: int, spare_balls: Sequence[str] = ()) -> Bag:
    """The best ``count`` balls for these rounds, or all of them if there are no more; ``spare_balls`` come on top.

    Raises:
        PlanError: no ball is asked for.
    """
    if count < 1:
        raise PlanError(f"A bag needs at least one ball to strike with, not {count}.")
    names = {row["ball"]: row["ball_name"] for options in rounds for row in options.rows}
    all_balls = sorted(names)
    taken = _best(rounds, all_balls, count)
    with_all, with_bag = worth(rounds, all_balls), worth(rounds, taken)

    def entry(ball: str, adds: Draws) -> BagBall:
        return BagBall(ball=ball, ball_name=names[ball], games=_games(rounds, taken, ball), adds=estimate(adds))

    inside = [entry(ball, with_bag - worth(rounds, _without(taken, ball))) for ball in taken if len(taken) > 1]
    inside = inside or [entry(ball, np.zeros_like(with_bag)) for ball in taken]
    outside = [entry(ball, worth(rounds, sorted([*taken, ball])) - with_bag) for ball in all_balls if ball not in taken]
    return Bag(
        take=sorted(inside, key=lambda item: -item.adds.mean),
        leave=sorted(outside, key=lambda item: -item.adds.mean),
        spare_balls=list(spare_balls),
        lost=estimate(with_all - with_bag),
    )


def _best(rounds: Sequence[Options], balls: list[str], count: int) -> list[str]:
    def mean(bag: Sequence[str]) -> float:
        return float(worth(rounds, bag).mean())

    while len(balls) > count and comb(len(balls), count) > _BAGS:
        balls = max((_without(balls, ball) for ball in balls), key=mean)
    bags = [list(bag) for bag in combinations(balls, min(count, len(balls)))]
    return max(bags, key=mean)


def worth(rounds: Sequence[Options], balls: Sequence[str]) -> Draws:
    """Draws (n,) of the mean score of a game with this bag, over the rounds that some ball of it was tried for."""
    scores = []
    for options in rounds:
        part = _allowed(options, balls) or options  # a round for which nothing in the bag was tried does not count
        for game, choice in enumerate(best_sequence(part)):
            score = part.score[:, game]
            scores.append((1 - _SHOWN) * score[:, choice] + _SHOWN * score.max(axis=1))
    total: Draws = np.mean(scores, axis=0)
    return total


def _games(rounds: Sequence[Options], balls: Sequence[str], ball: str) -> int:
    """Games in which the bag's best sequences throw the ball."""
    allowed = [part for options in rounds if (part := _allowed(options, balls))]
    return sum(part.rows[k]["ball"] == ball for part in allowed for k in best_sequence(part))


def _allowed(options: Options, balls: Sequence[str]) -> Options | None:
    """The choices of a round with these balls; None without any."""
    keep = [k for k, row in enumerate(options.rows) if row["ball"] in balls]
    return options.only(keep) if keep else None


def _without(balls: Sequence[str], ball: str) -> list[str]:
    return [other for other in balls if other != ball]
