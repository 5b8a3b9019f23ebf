"""What to log next: the ball and phase whose uncertainty costs most pins, and about how many shots would settle it.

Balls are priced as they are bowled, their lines following the lane, as in the cards and the practice session.
Value of perfect information: the pins expected from choosing after the truth is known, less those from choosing now.
Value of a sample: what n more shots on one choice are expected to add, with the draws of every choice regressed on that
one's and shrunk by the share of its variance that n shots remove (a normal approximation of the preposterior).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.arrays import Draws
from pipeline.decisions.advice.next_line import phase_named
from pipeline.decisions.candidates import TRIED, Candidates, CellKey, ChoiceRow, candidates
from pipeline.decisions.records import NextShots
from pipeline.decisions.wording.practice import next_shots_sentence
from pipeline.inference.sample_size import noise_of_one_shot, perfect_information, smallest_sample
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted

PER_BOWLER = 3
_SIZES = (10, 20, 30, 40, 60, 80, 100, 150, 200, 300, 400)
_ENOUGH = 2 / 3  # of the value of perfect knowledge of the choice
_DRAWS = 400


@dataclass(frozen=True)
class _Question:
    cell: CellKey
    row: ChoiceRow
    shots: int
    at_stake: float
    gain: float  # pins per game expected from those shots, in the games of the cell
    share: float  # of the bowler's shots that are bowled in the cell

    @property
    def a_shot(self) -> float:
        """Expected gain per shot, in pins per game over the bowler's season."""
        return self.gain * self.share / self.shots


def next_shots(fitted: Fitted) -> list[NextShots]:
    """For each bowler up to three practice questions, one per cell, by the gain per shot, best first.

    A question is asked only if it is expected to gain ``practice.least_gain``. ``pins_at_stake`` is the value of
    perfect information on the cell's choice. A cell counts by the share of the bowler's shots bowled in it; a bowler
    with one choice everywhere has nothing to ask. If no cell has two balls with ``TRIED`` shots, as early in a season,
    balls with fewer are asked about.
    """
    options = candidates(fitted)
    shots = {key: sum(options.choices[i]["shots"] for i in at) for key, at in options.places.items()}
    result = []
    for bowler in sorted({key[0] for key in shots}):
        of_bowler = {key: count for key, count in shots.items() if key[0] == bowler}
        worth = fitted.fits.settings.practice.least_gain
        asked = _asked(options, of_bowler, TRIED, worth) or _asked(options, of_bowler, 1, worth)
        result += [_record(question, fitted.fits) for question in asked[:PER_BOWLER]]
    return result


def _asked(options: Candidates, shots: dict[CellKey, int], least: int, worth: float) -> list[_Question]:
    """The best question of each cell, best first, among balls with ``least`` shots there.

    ``shots``: of one bowler's cells. ``worth``: pins per game that the answer must be expected to gain.
    """
    best: dict[CellKey, _Question] = {}
    for cell, count in shots.items():
        share = count / max(1, sum(shots.values()))
        for question in _questions(options, cell, share, least, worth):
            if cell not in best or question.a_shot > best[cell].a_shot:
                best[cell] = question
    return sorted(best.values(), key=lambda question: -question.a_shot)


def sample_information(pins: Draws, choice: int, share_removed: float) -> float:
    """Expected gain of a sample on one choice that removes ``share_removed`` (0..1) of its variance.

    With 1 it is the gain of knowing that choice perfectly, by linear regression of the others on it.
    """
    mean = pins.mean(axis=0)
    away = pins[:, choice] - mean[choice]
    variance = float((away**2).mean())
    if variance <= 0:
        return 0.0
    slope = away @ pins / len(away) / variance
    seen = mean[:, None] + np.outer(slope, math.sqrt(share_removed) * away)  # choices first: the best of a few rows
    return float(seen.max(axis=0).mean() - mean.max())


def _questions(options: Candidates, cell: CellKey, share: float, least: int, worth: float) -> list[_Question]:
    at = _one_line_each(options, options.places[cell], least)
    if len(at) < 2 or share <= 0:
        return []
    pins = options.following.pins[:_DRAWS, at]
    at_stake = perfect_information(pins)
    result = []
    for k, place in enumerate(at):
        known = sample_information(pins, k, 1.0)
        if known < worth:
            continue
        noise = noise_of_one_shot(pins[:, k], options.following.strike[:_DRAWS, place])
        size, gain = _enough(pins, k, noise, known)
        if gain >= worth:
            result.append(_Question(cell, options.choices[place], size, at_stake, gain, share))
    return result


def _one_line_each(options: Candidates, places: NDArray[np.intp], least: int) -> NDArray[np.intp]:
    """The most thrown line of each ball with ``least`` shots in the cell; all lines of a ball are priced alike."""
    balls, shots = options.rows["ball"].to_numpy()[places], options.rows["shots"].to_numpy()[places]
    thrown: dict[str, int] = {}
    most: dict[str, int] = {}
    for k, ball in enumerate(balls.tolist()):
        thrown[ball] = thrown.get(ball, 0) + int(shots[k])
        if shots[k] > shots[most.setdefault(ball, k)]:
            most[ball] = k
    return np.sort(places[[k for ball, k in most.items() if thrown[ball] >= least]])


def _enough(pins: Draws, choice: int, noise: float, known: float) -> tuple[int, float]:
    """The smallest sample with most of the value of perfect knowledge of the choice, and its value."""
    spread = float(pins[:, choice].var())

    def gain(size: int) -> float:
        return sample_information(pins, choice, spread / (spread + noise / size))

    size = smallest_sample(lambda size: gain(size) >= _ENOUGH * known, _SIZES, otherwise=_SIZES[-1])
    return size, gain(size)


def _record(question: _Question, fits: Fits) -> NextShots:
    bowler, pattern_class, phase = question.cell
    row = question.row
    record = NextShots(
        bowler=bowler,
        pattern_class=pattern_class,
        phase=phase_named(phase),
        ball=row["ball"],
        ball_name=row["ball_name"],
        line=row["line"],
        shots=question.shots,
        gain=question.gain,
        pins_at_stake=question.at_stake,
        share=question.share,
        sentence="",
    )
    sentence = next_shots_sentence(record, int(row["shots"]), fits.settings.phases)
    return record.model_copy(update={"sentence": sentence})
