"""The score of a game from its deliveries, by the playing rules: what the product's SQL and tables are held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FRAMES = 10
PINS = 10


class ScoringError(ValueError):
    """A sequence of deliveries that no game can hold.

    Attributes:
        reason: what is wrong, with the frame and the delivery.
    """

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True)
class Delivery:
    """One delivery: the pins it felled (0..10) and whether it was a foul, which counts as a delivery but fells none."""

    pins: int
    foul: bool = False

    @property
    def counted(self) -> int:
        """Pins that count: none for a foul."""
        return 0 if self.foul else self.pins


@dataclass(frozen=True)
class GameScore:
    """Running score after each frame that is settled (1 to 10 entries), and the total, None while incomplete."""

    frames: tuple[int, ...]
    total: int | None


def score_game(deliveries: Sequence[Delivery]) -> GameScore:
    """Score a game, whole or in part.

    A strike counts 10 and the next two deliveries, a spare 10 and the next one; the tenth frame has a third delivery
    after a strike or a spare. A foul counts as a delivery of 0 pins and the pins it felled are respotted.

    Args:
        deliveries: in order, at most one game's.

    Returns:
        The running scores of every frame whose bonus deliveries are known; the total once the game is complete.

    Raises:
        ScoringError: a count out of range, more pins in a frame than stood, or deliveries after the game's end.
    """
    counts = [delivery.counted for delivery in deliveries]
    for number, delivery in enumerate(deliveries, start=1):
        if not 0 <= delivery.pins <= PINS:
            raise ScoringError(f"delivery {number}: {delivery.pins} pins felled; a delivery fells 0 to 10")
    running: list[int] = []
    at = 0
    total: int | None = 0
    for frame in range(1, FRAMES):
        worth, at = _frame(counts, at, frame)
        total = None if worth is None or total is None else total + worth
        if total is not None:
            running.append(total)
    worth = _tenth(counts, at)
    total = None if worth is None or total is None else total + worth
    if total is not None:
        running.append(total)
    return GameScore(tuple(running), total)


def _frame(counts: list[int], at: int, frame: int) -> tuple[int | None, int]:
    """Worth of one of the first nine frames (None while open questions remain) and where the next begins."""
    balls = counts[at : at + 3]
    if not balls:
        return None, at
    if balls[0] == PINS:
        return (sum(balls) if len(balls) == 3 else None), at + 1
    if len(balls) == 1:
        return None, at + 1
    felled = _two_balls(balls, f"frame {frame}")
    if felled == PINS:
        return (sum(balls) if len(balls) == 3 else None), at + 2
    return felled, at + 2


def _two_balls(balls: list[int], where: str) -> int:
    felled = balls[0] + balls[1]
    if felled > PINS:
        raise ScoringError(f"{where}: {balls[0]} then {balls[1]} pins is more than the ten that stood")
    return felled


def _tenth(counts: list[int], at: int) -> int | None:
    """Worth of the tenth frame, None while it is incomplete."""
    balls = counts[at:]
    needed = 3 if _earns_third(balls) else 2
    if len(balls) > needed:
        extra = len(balls) - needed
        raise ScoringError(f"frame 10: {extra} more {'delivery' if extra == 1 else 'deliveries'} than the game has")
    if len(balls) < needed:
        return None
    return sum(balls)


def _earns_third(balls: list[int]) -> bool:
    """Whether the tenth frame has a third delivery; refuses pins that did not stand."""
    if len(balls) < 2:
        return bool(balls) and balls[0] == PINS
    if balls[0] != PINS:
        return _two_balls(balls, "frame 10") == PINS
    if len(balls) > 2 and balls[1] != PINS:
        _two_balls(balls[1:], "frame 10, after its strike")
    return True
