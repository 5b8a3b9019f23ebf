"""A world in which a ball is its numbers: RG, differentials, layout and surface make its hook; cover and core do not.

The lane is that of ``shared_lane``, nights a board apart. Only what a ball does differs: two balls of one class hook as
differently as two of any, so whoever goes by classes alone learns every ball from its own shots. Directions are common
practice: low RG, high differentials, a dull surface and a pin near 3 3/8 inches from the axis hook more, while high RG
and a polished surface store it for the pins, which steepens the entry angle. The sizes are invented.
"""

from __future__ import annotations

import numpy as np

from tests.recovery.worlds.club import Club, make_club
from tests.recovery.worlds.mechanism import Shot
from tests.recovery.worlds.season import WorldSeason, play_season
from tests.recovery.worlds.shared_lane import SharedLane

_NIGHTS = 1.0  # boards
_MOST_FLARE = 3.375  # inches from pin to axis
_USUAL_RG, _USUAL_DIFF, _USUAL_GRIT = 2.53, 0.039, 1500.0
_OWN = 0.03  # strength that no number tells


class BallNumbers(SharedLane):
    """The lane of ``shared_lane`` under balls of which only the numbers count."""

    def __init__(self, club: Club, rng: np.random.Generator) -> None:
        super().__init__(club, rng, _NIGHTS)
        balls = club.balls
        late = _late(club)
        strength = (
            0.5
            - 2.0 * (balls["rg_in"].to_numpy(dtype=float) - _USUAL_RG)
            + 7.0 * (balls["diff_in"].to_numpy(dtype=float) - _USUAL_DIFF)
            + 4.0 * balls["int_diff_in"].to_numpy(dtype=float)
            - 0.03 * (club.pin_to_pap - _MOST_FLARE) ** 2
            - 0.10 * np.log2(club.grit / _USUAL_GRIT)
            + rng.normal(0, _OWN, len(balls))
        )
        self._strength = np.where(balls["spare_ball"], 0.0, np.clip(strength, 0.05, 1.0))
        self._late = np.where(balls["spare_ball"], 0.0, late)
        self._ball = rng.normal(0, 0.05, len(balls))

    def arrive(self, state: np.ndarray, shot: Shot) -> tuple[np.ndarray, np.ndarray]:
        """As on the shared lane; what is stored for the pins steepens the angle."""
        entry, angle = super().arrive(state, shot)
        return entry, angle + 0.35 * self._late[shot.ball]


def _late(club: Club) -> np.ndarray:
    """How much of its hook a ball stores for the pins, about 0, sd about 1."""
    rg = (club.balls["rg_in"].to_numpy(dtype=float) - _USUAL_RG) / 0.04
    return np.asarray(0.7 * rg + 0.7 * np.log2(club.grit / _USUAL_GRIT))


def ball_numbers(seed: int) -> WorldSeason:
    """One season."""
    rng = np.random.default_rng([seed, 103])
    club = make_club(rng)
    return play_season(club, BallNumbers(club, rng), rng)
