"""Seasons made in memory for tests of the decisions: tables filled straight from frames, with known truth."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import duckdb
import numpy as np
import pandas as pd

from pipeline.settings import Settings
from pipeline.store.season import Season, prepare
from queries import names, sql

FIRST_DAY = dt.date(2025, 9, 1)
TEN_PIN, FULL = 512, 1023


@dataclass
class MadeBall:
    """A ball and its truth on the logit scale; ``wear`` is lost per 10 games since resurfacing."""

    ball: str
    bowler: str = "ann"
    cover: str = "solid"
    core: str = "symmetric"
    effect: float = 0.0
    wear: float = 0.0
    hook: float = 0.0
    games_before: float = 0.0
    benchmark: bool = False
    spare_ball: bool = False


@dataclass
class MadeSeason:
    """What to simulate: every bowler throws his balls in turn, ``runs`` runs of frames a block."""

    balls: list[MadeBall]
    blocks: int = 20
    games: int = 3
    level: float = 0.2
    block_sd: float = 0.1
    resurfaced: list[tuple[int, str]] = field(default_factory=list)  # (before this block number, ball)
    cared: list[tuple[int, str, str]] = field(default_factory=list)  # (before this block number, ball, action)
    patterns: tuple[float | None, ...] = (40.0,)
    hands: dict[str, str] = field(default_factory=dict)
    boards: bool = True
    game_effect: dict[str, float] = field(default_factory=dict)  # ball -> logit a game into the block
    in_order: bool = False  # True: first ball first in every block, else balls alternate by frame
    seed: int = 1


def day(block: int) -> dt.date:
    return FIRST_DAY + dt.timedelta(days=3 * block)


def _insert(connection: duckdb.DuckDBPyConnection, table: str, rows: pd.DataFrame) -> None:
    rows = rows.assign(source_file="made", line=np.arange(len(rows)))
    connection.register("made_rows", rows)
    connection.execute(f"INSERT INTO {table} BY NAME SELECT * FROM made_rows")
    connection.unregister("made_rows")


_COLUMNS = ["frame", "delivery", "arrow_board", "entry_board", "facing", "standing", "first_ball"]


def _frame(rng: np.random.Generator, frame: int, strike: bool, boards: tuple[float, float]) -> list[tuple[object, ...]]:
    """Deliveries of one frame: the 10 pin is all that ever stays; after a strike in the tenth it stays once more."""
    if strike and frame < 10:
        return [(frame, 1, *boards, FULL, 0, True)]
    if strike:
        rest = [(frame, 2, *boards, FULL, TEN_PIN, True), (frame, 3, None, None, TEN_PIN, 0, False)]
        return [(frame, 1, *boards, FULL, 0, True), *rest]
    left = 0 if rng.random() < 0.8 else TEN_PIN
    thrown = [(frame, 1, *boards, FULL, TEN_PIN, True), (frame, 2, None, None, TEN_PIN, left, False)]
    if frame == 10 and left == 0:
        thrown.append((frame, 3, *boards, FULL, TEN_PIN, True))
    return thrown


def _deliveries(plan: MadeSeason) -> pd.DataFrame:
    rng = np.random.default_rng(plan.seed)
    since = {ball.ball: ball.games_before for ball in plan.balls}
    rows: list[tuple[object, ...]] = []
    for block in range(plan.blocks):
        since |= {ball: 0.0 for number, ball in plan.resurfaced if number == block}
        for bowler in sorted({ball.bowler for ball in plan.balls}):
            rows += [(day(block), f"b{block:03d}", bowler, *row) for row in _bowled(plan, rng, block, bowler, since)]
    table = pd.DataFrame(rows, columns=["date", "block", "bowler", "lane", "game", "ball", *_COLUMNS])
    table[["arrow_board", "entry_board"]] = table[["arrow_board", "entry_board"]].astype(float)
    if not plan.boards:
        table[["arrow_board", "entry_board"]] = np.nan
    table["laydown_board"] = table["arrow_board"] + 3
    return table.assign(foul=False, repaired=False)


def _bowled(
    plan: MadeSeason, rng: np.random.Generator, block: int, bowler: str, since: dict[str, float]
) -> list[tuple[object, ...]]:
    """One bowler's block: lane, game, ball and the columns of ``_frame``; ages ``since`` as it goes."""
    bag = [ball for ball in plan.balls if ball.bowler == bowler and not ball.spare_ball]
    luck = plan.block_sd * rng.standard_normal()
    rows: list[tuple[object, ...]] = []
    for shot in range(10 * plan.games):
        game, frame = shot // 10 + 1, shot % 10 + 1
        ball = bag[shot * len(bag) // (plan.games * 10) if plan.in_order else (shot + block) % len(bag)]
        logit = plan.level + luck + ball.effect - ball.wear * since[ball.ball] / 10
        logit += plan.game_effect.get(ball.ball, 0.0) * (game - 1)
        since[ball.ball] += 0.1
        arrow = 10 + 0.5 * game + rng.normal(0, 1)
        entry = 17.5 + ball.hook - 0.4 * (arrow - 11) + rng.normal(0, 1)
        strike = bool(rng.random() < 1 / (1 + np.exp(-logit)))
        rows += [(1 + frame % 2, game, ball.ball, *row) for row in _frame(rng, frame, strike, (arrow, entry))]
    return rows


def make(plan: MadeSeason, settings: Settings | None = None) -> Season:
    """The season as the models see it."""
    connection = duckdb.connect()
    for name in names("schema"):
        connection.execute(sql(name))
    bowlers = sorted({ball.bowler for ball in plan.balls})
    _insert(
        connection,
        "bowlers",
        pd.DataFrame(
            {
                "bowler": bowlers,
                "name": bowlers,
                "hand": [plan.hands.get(b, "right") for b in bowlers],
                "style": "one-handed",
            }
        ),
    )
    _insert(
        connection,
        "balls",
        pd.DataFrame(
            [
                {
                    "ball": b.ball,
                    "bowler": b.bowler,
                    "name": b.ball.title(),
                    "cover": b.cover,
                    "core": b.core,
                    "rg_in": 2.5,
                    "diff_in": 0.04,
                    "benchmark": b.benchmark,
                    "spare_ball": b.spare_ball,
                    "games_before": b.games_before,
                    "surface_grit": 2000,
                }
                for b in plan.balls
            ]
        ),
    )
    lengths = sorted({length for length in plan.patterns if length is not None})
    if lengths:
        _insert(
            connection,
            "patterns",
            pd.DataFrame(
                {
                    "pattern": [f"p{v:.0f}" for v in lengths],
                    "name": "made",
                    "length_ft": lengths,
                    "volume_ml": 24.0,
                    "ratio": 4.0,
                }
            ),
        )
    chosen = [plan.patterns[number % len(plan.patterns)] for number in range(plan.blocks)]
    _insert(
        connection,
        "blocks",
        pd.DataFrame(
            {
                "block": [f"b{number:03d}" for number in range(plan.blocks)],
                "date": [day(n) for n in range(plan.blocks)],
                "pattern": [None if v is None else f"p{v:.0f}" for v in chosen],
            }
        ),
    )
    acts = [(n, ball, "resurface") for n, ball in plan.resurfaced] + plan.cared
    if acts:
        _insert(
            connection,
            "maintenance",
            pd.DataFrame(
                {
                    "date": [day(n) for n, _, _ in acts],
                    "ball": [ball for _, ball, _ in acts],
                    "action": [action for _, _, action in acts],
                }
            ),
        )
    _insert(connection, "deliveries", _deliveries(plan))
    return prepare(connection, settings or Settings())
