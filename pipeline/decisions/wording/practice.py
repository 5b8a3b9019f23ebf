"""What to log next and what to practise, in words."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.decisions.records import NextShots, PracticeShots
from pipeline.decisions.wording.terms import (
    in_phase,
    on_pattern,
    percent,
    pins_a_game,
    plural,
    sentence,
    signed,
    with_ball,
)
from pipeline.settings import BlockPhases


def next_shots_sentence(asked: NextShots, logged: int, limits: BlockPhases) -> str:
    """Which shots to log and the gain to expect; ``logged``: first deliveries on that choice so far."""
    where = f"{on_pattern(asked.pattern_class)} {in_phase(asked.phase, limits)}"
    return (
        f"Log {plural(asked.shots, 'shot')} with {with_ball(asked.ball_name, asked.line)} {where} "
        f"({logged:,} logged so far). Expect your choice there to improve by {pins_a_game(asked.gain, 1)} "
        f"({signed(asked.pins_at_stake, 1)} if the best choice were known for sure)."
    )


def games_in_words(item: PracticeShots) -> str:
    """``game 3``, or ``games 3 to 4``."""
    if item.from_game == item.to_game:
        return f"game {item.from_game}"
    return f"games {item.from_game} to {item.to_game}"


def session_sentence(
    pattern_class: str,
    games: int,
    items: Sequence[PracticeShots],
    gain: float,
    p_change: float,
    in_session: float,
    in_season: float,
) -> str:
    """What to throw, what it is expected to bring, and what it cannot show."""
    shots = " ".join(
        f"{sentence(games_in_words(item))}: {plural(item.shots, 'shot')} with {with_ball(item.ball_name, item.line)}."
        for item in items
    )
    return (
        f"Practise {plural(games, 'game')} {on_pattern(pattern_class)}. {shots} "
        f"Expect your choice of ball there to improve by {pins_a_game(gain, 1)}; "
        f"another ball is chosen in some phase with probability {percent(p_change)}. "
        f"One session hardly shows a lead under {in_session:.0f} pins per game between two balls, "
        f"a whole season hardly one under {in_season:.0f}."
    )


def no_session(games: int, least: float, best: tuple[float, str] | None) -> str:
    """That no practice is worth proposing, and what the best would be expected to bring."""
    if best is None:
        return f"No practice of {plural(games, 'game')} to propose: no pattern class has two balls to choose between."
    gain, pattern_class = best
    return (
        f"No practice of {plural(games, 'game')} is expected to gain {least:g} pins per game; the best, "
        f"{on_pattern(pattern_class)}, would gain {gain:.2f}."
    )
