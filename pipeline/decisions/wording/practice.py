"""A practice session in words."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.decisions.records import PracticeShots
from pipeline.decisions.wording.terms import on_pattern, percent, pins_a_game, plural, with_ball


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
    shots = "; ".join(
        f"{plural(item.shots, 'shot')} with {with_ball(item.ball_name, item.line)} in {games_in_words(item)}"
        for item in items
    )
    text = (
        f"Practise {plural(games, 'game')} {on_pattern(pattern_class)}: {shots}. Expect your choice of ball there to "
        f"improve by {pins_a_game(gain, 1)}; {percent(p_change)} likely that another ball is chosen in some phase."
    )
    return (
        f"{text} A lead under {in_session:.0f} pins per game between two balls hardly shows in such a session, nor one "
        f"under {in_season:.0f} in a whole season."
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
