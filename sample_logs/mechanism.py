"""How a ball scores in the invented world: boards, angle, strike, leave and spare, as pure functions of arrays.

Boards count from the bowler's own side throughout, and leaves are those of a right-hander (mirrored when written).
"""

from __future__ import annotations

import numpy as np

from sample_logs.world import CARRY, GAME_SLOPE, World

CENTRE_BOARD = 17.5
FULL = 1023
_ZONE_CENTRES = np.array([13.5, 15.75, 17.5, 19.5, 22.5])  # short, light, pocket, high, brooklyn

# Weights of each leave where the ball came in short, light, in the pocket, high, brooklyn; and how hard it is to
# convert (logit, larger is easier). Invented, after what is commonly seen.
_LEAVES = {
    "10": (1, 6, 34, 8, 3, 1.8),
    "7": (0.5, 4, 7, 4, 14, 1.9),
    "4": (0.1, 1, 8, 9, 2, 2.6),
    "9": (0.1, 0.5, 5, 2, 1, 2.4),
    "8": (0.1, 2, 5, 1, 1, 2.4),
    "6": (0.5, 1, 1.5, 5, 2, 2.3),
    "5": (0.1, 3, 2, 0.5, 2, 2.7),
    "2": (1, 3, 0.5, 0.1, 1, 2.6),
    "3": (0.1, 0.5, 0.5, 1.5, 2, 2.6),
    "2-4-5-8": (1, 5, 0.3, 0.1, 0.1, 0.5),
    "3-5-6-9": (0.1, 0.2, 0.3, 1.5, 4, 0.3),
    "2-8": (0.5, 3, 0.5, 0.1, 0.1, 1.1),
    "2-4-5": (0.5, 4, 0.3, 0.1, 0.1, 1.0),
    "4-7": (0.3, 1, 2, 3, 0.5, 1.7),
    "6-10": (1.5, 2, 3, 3, 1, 1.5),
    "3-6-10": (1, 0.5, 0.7, 3, 0.8, 1.3),
    "2-4-7": (2, 1.5, 0.2, 0.2, 0.5, 1.3),
    "1-2-4": (2.5, 0.5, 0.1, 0.1, 0.1, 1.0),
    "1-2-4-7": (4, 0.5, 0.1, 0.1, 0.1, 0.6),
    "1-3-6-10": (0.1, 0.1, 0.1, 0.3, 3, 0.5),
    "1-2-10": (3, 1, 0.1, 0.1, 0.1, -0.1),
    "1-2-4-10": (5, 2, 0.1, 0.1, 0.1, -0.5),
    "3-10": (0.3, 0.3, 1.2, 4, 1, 0.6),
    "2-7": (0.6, 1, 0.3, 0.3, 2, 0.5),
    "5-7": (0.3, 4, 1, 0.2, 0.3, -1.4),
    "8-10": (0.2, 2.5, 1.2, 0.2, 0.2, -3.2),
    "4-9": (0.1, 0.1, 0.7, 3, 0.3, -1.2),
    "4-10": (0.2, 0.6, 0.5, 0.8, 0.1, -2.0),
    "4-6": (0.1, 0.1, 0.1, 1.5, 0.2, -4.2),
    "7-10": (0.1, 0.3, 0.8, 0.5, 0.5, -5.0),
    "5-10": (0.1, 0.2, 0.1, 0.2, 2, -1.2),
    "6-7-10": (0.1, 0.2, 0.4, 2.5, 0.3, -2.4),
    "4-6-7": (0.1, 0.1, 0.1, 2, 0.3, -3.5),
    "4-6-7-10": (0.1, 0.1, 0.1, 4, 0.4, -4.5),
    "1-2-4-5-7-8": (4, 0.1, 0.1, 0.1, 0.1, -0.4),
    "1-2-3-4-5-6-7-8-9-10": (1.2, 0.1, 0.1, 0.1, 0.2, 0.0),
}


def _mask(text: str) -> int:
    return sum(1 << (int(pin) - 1) for pin in text.split("-"))


LEAVE_MASKS = np.array([_mask(text) for text in _LEAVES])
LEAVE_PINS = np.array([int(mask).bit_count() for mask in LEAVE_MASKS])
LEAVE_EASE = np.array([row[5] for row in _LEAVES.values()])
MISS_ALL = 0.35  # a missed spare of several pins: all stay with this probability, else exactly one stays
_WEIGHTS = np.array([row[:5] for row in _LEAVES.values()], dtype=float)
_EASE_BY_MASK = np.zeros(1024)
_EASE_BY_MASK[LEAVE_MASKS] = LEAVE_EASE
_PLACE_BY_MASK = np.full(1024, -1)
_PLACE_BY_MASK[LEAVE_MASKS] = np.arange(len(LEAVE_MASKS))


def ideal_arrow(
    world: World,
    bowler: np.ndarray,
    strength: np.ndarray,
    length: np.ndarray,
    volume: np.ndarray,
    game: np.ndarray,
    load: np.ndarray,
) -> np.ndarray:
    """The arrow board from which this ball reaches the pocket; it moves inward as the oil breaks down."""
    broken = 0.7 * (game - 1) + 5 * (1 - np.exp(-load / 150))
    board = (
        (length - 28) + 7 * (strength - 0.55) + 2.5 * (world.revs[bowler] - 380) / 130 - 0.25 * (volume - 24) + broken
    )
    return np.clip(board, 3, 30)


def entry_mean(world: World, bowler: np.ndarray, arrow: np.ndarray, ideal: np.ndarray) -> np.ndarray:
    """Mean entry board: too far inside comes in light, too far outside comes in high."""
    return CENTRE_BOARD + world.entry_bias[bowler] - 0.32 * (arrow - ideal)


def entry_spread(world: World, bowler: np.ndarray, ratio: np.ndarray) -> np.ndarray:
    """Standard deviation in boards; flat patterns forgive less."""
    return world.entry_sd[bowler] * (1 + 0.25 * np.exp(-(np.asarray(ratio) - 2) / 3))


def entry_angle(world: World, bowler: np.ndarray, strength: np.ndarray, arrow: np.ndarray) -> np.ndarray:
    """Entry angle in degrees before noise."""
    return 4.2 + 2.0 * (strength - 0.55) + 0.5 * (world.revs[bowler] - 380) / 130 + 0.08 * (arrow - 12)


def place_logit(entry: np.ndarray) -> np.ndarray:
    """What the entry board adds: best at the pocket's centre, and a second, lower hill on the far side."""
    off = entry - CENTRE_BOARD
    return np.maximum(-0.55 * off**2, -3.6) + 1.6 * np.exp(-((off - 5) ** 2) / 2)


def strike_logit(
    world: World,
    bowler: np.ndarray,
    ball: np.ndarray,
    pattern_class: np.ndarray,
    game: np.ndarray,
    wear: np.ndarray,
    angle: np.ndarray,
    entry: np.ndarray,
) -> np.ndarray:
    """Log odds of a strike given where and how the ball came in."""
    kind = world.ball_class[ball]
    return (
        1.05
        + world.skill[bowler]
        + CARRY[kind, pattern_class]
        + GAME_SLOPE[kind] * (game - 1)
        + world.ball_effect[ball]
        - world.carry_wear[ball] * wear
        - 0.10 * (angle - 5.8) ** 2
        + place_logit(entry)
    )


def leave_probabilities(entry: np.ndarray) -> np.ndarray:
    """P(leave | no strike, entry board), shape [..., leaves]; weights are interpolated between the zones' centres."""
    flat = np.clip(np.asarray(entry, dtype=float), _ZONE_CENTRES[0], _ZONE_CENTRES[-1])
    left = np.clip(np.searchsorted(_ZONE_CENTRES, flat, side="right") - 1, 0, 3)
    share = (flat - _ZONE_CENTRES[left]) / (_ZONE_CENTRES[left + 1] - _ZONE_CENTRES[left])
    columns = _WEIGHTS.T
    weights = columns[left] * (1 - share[..., None]) + columns[left + 1] * share[..., None]
    return weights / weights.sum(axis=-1, keepdims=True)


def spare_probability(world: World, bowler: np.ndarray, standing: np.ndarray) -> np.ndarray:
    """P(spare | bowler, pins standing) at a rack that a first ball has left."""
    place = _PLACE_BY_MASK[standing]
    own = np.where(place < 0, 0.0, world.spare_own[bowler, place])
    return 1 / (1 + np.exp(-(world.spare_skill[bowler] + _EASE_BY_MASK[standing] + own)))


def draw_leave(rng: np.random.Generator, entry: np.ndarray) -> np.ndarray:
    """Draw pins left standing, given no strike."""
    steps = np.cumsum(leave_probabilities(entry), axis=-1)
    return LEAVE_MASKS[np.minimum((rng.random(len(entry))[:, None] > steps).sum(axis=1), len(LEAVE_MASKS) - 1)]


def draw_miss(rng: np.random.Generator, standing: np.ndarray) -> np.ndarray:
    """Draw pins left by a missed spare: all of them, or one of several."""
    bits = (standing[:, None] >> np.arange(10)) & 1
    pick = np.argmax(bits * rng.random(bits.shape), axis=1)
    keep_all = (bits.sum(axis=1) == 1) | (rng.random(len(standing)) < MISS_ALL)
    return np.where(keep_all, standing, 1 << pick)
