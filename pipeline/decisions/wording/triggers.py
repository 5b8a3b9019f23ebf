"""When to leave a step of a plan, in words."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.wording.terms import direction, percent, plural, sentence, the_line, with_ball


@dataclass(frozen=True)
class InHand:
    """A ball as a step of a plan plays it: its name, its line, and whether it keeps to that."""

    ball: str
    name: str
    line: str
    keeps: bool


@dataclass(frozen=True)
class FewStrikes:
    """The limit at which a step is left: at most ``strikes`` in a game; ``by_luck`` (0..1) is its chance by luck."""

    strikes: int
    by_luck: float


def going_on(game: int, old: InHand, new: InHand, likely: float | None, sooner: FewStrikes | None = None) -> str:
    """The change or move that begins the next step, with how likely it is better.

    Args:
        game: first game of the next step.
        old: the ball in hand.
        new: the ball of the next step.
        likely: probability that the next step is better then; None if the two are not compared.
        sooner: the game after which to go on before that; None for no such limit.
    """
    step = sentence(f"from game {game} {_step(old, new, likely)}.")
    return step if sooner is None else f"{step} Go sooner after a game with {_few(sooner)}. {_by_chance(sooner)}"


def _step(old: InHand, new: InHand, likely: float | None) -> str:
    if new.ball != old.ball:
        sure = "the ball in hand has too few shots that late" if likely is None else f"{percent(likely)} likely better"
        return f"change to {with_ball(new.name, new.line)} ({sure})"
    if not new.keeps:
        return "move with the lane"
    if new.line == old.line:
        return f"stay on {the_line(new.line)}"
    return f"move {direction(old.line, new.line)} to {the_line(new.line)}".replace("  ", " ")


def to_the_backup(limit: FewStrikes | None) -> str:
    """When to go to the backup in the first stretch; ``limit``: the game after which; None for no such limit."""
    if limit is None:
        return "Go to it if the pocket is gone."
    return f"Go to it after a game with {_few(limit)}, or if the pocket is gone. {_by_chance(limit)}"


def _few(limit: FewStrikes) -> str:
    many = "no strike" if limit.strikes == 0 else f"at most {plural(limit.strikes, 'strike')}"
    return f"{many} in ten frames"


def _by_chance(limit: FewStrikes) -> str:
    return f"A good line has such a game by chance in {percent(limit.by_luck)} of blocks."
