"""Random legal games as stored deliveries, and made-up chances for the ledger's tables."""

from __future__ import annotations

from functools import cache

import duckdb
import numpy as np
import pandas as pd
from hypothesis import strategies as st

from pipeline.pricing.ledger.deliveries import PARTS
from pipeline.settings import Settings
from pipeline.sport.state_values import POSITIONS, Chances, averaged, possible_states, state_shares, state_values
from pipeline.store.season import Season, prepare
from queries import names, sql

FULL = 1023
BY = [f"by_{part}" for part in PARTS]
Row = tuple[int, int, int, int, bool, bool]  # frame, delivery, facing, standing, first_ball, foul


@st.composite
def games(draw: st.DrawFn) -> list[Row]:
    """A whole game by the rules, with strikes, spares and fouls more often than chance brings them."""
    rows: list[Row] = []
    for frame in range(1, 11):
        facing, new = FULL, True
        for delivery in (1, 2, 3):
            foul = draw(st.integers(0, 11)) == 0
            fallen = draw(st.sampled_from([0, FULL, FULL])) or draw(st.integers(0, FULL))
            standing = facing if foul else facing & ~fallen
            rows.append((frame, delivery, facing, standing, new, foul))
            if _over(frame, delivery, rows):
                break
            facing, new = (FULL, True) if standing == 0 else (standing, False)
    return rows


def _over(frame: int, delivery: int, rows: list[Row]) -> bool:
    standing = rows[-1][3]
    if frame < 10:
        return delivery == 2 or standing == 0
    if delivery == 2:  # a third is earned by a strike first, or by a spare
        return standing != 0 and rows[-2][3] != 0
    return delivery == 3


def deliveries(each: list[list[Row]]) -> pd.DataFrame:
    """One block of these games by one bowler."""
    rows = [(1 + number, *row) for number, game in enumerate(each) for row in game]
    table = pd.DataFrame(rows, columns=["game", "frame", "delivery", "facing", "standing", "first_ball", "foul"])
    return table.assign(
        date=pd.Timestamp("2026-01-05").date(), block="b", bowler="ann", lane=1, ball="x", repaired=False
    )


@cache
def _made() -> Season:
    connection = duckdb.connect(":memory:")
    for name in names("schema"):
        connection.execute(sql(name))
    return prepare(connection, Settings())


def season_of(rows: pd.DataFrame) -> Season:
    """The deliveries as an open season without bowlers' or balls' descriptions, in place of those before."""
    season = _made()
    season.held.clear()
    rows = rows.assign(source_file="made", line=np.arange(len(rows)))
    season.connection.execute("DELETE FROM deliveries")
    season.connection.register("new_rows", rows)
    season.connection.execute("INSERT INTO deliveries BY NAME SELECT * FROM new_rows")
    season.connection.unregister("new_rows")
    return season


def value_at_random(season: Season, seed: int) -> Chances:
    """Fill the ledger's tables with chances drawn at random, of one bowler ``ann`` under one reference, and value."""
    rng = np.random.default_rng(seed)
    key = {"reference": "class", "bowler": "ann"}
    base = Chances(*(np.asarray(rng.uniform(*limits)) for limits in ((0.05, 0.9), (0.05, 0.9), (4, 9), (0.5, 3))))
    values, own = state_values(base), rng.uniform(0.1, 0.9, 2)
    position, owed = np.nonzero(possible_states())
    fields = ("first_times", "second_times", "after_strike", "after_spare", "after_open", "before")
    states = {name: getattr(values, name)[position, owed] for name in fields}
    shares = state_shares(*own)
    means = {name: averaged(getattr(values, name), shares) for name in fields[:-1]}
    masks = np.arange(1, FULL + 1)
    stages = season.frame("ledger/ledger_choices")[["pattern", "game", "ball", "line"]]
    for stage in ("lane", "ball", "line"):
        for field, low, high in (("strike", 0, 1), ("spare", 0, 1), ("first_pins", 0, 9), ("second_pins", 0, 5)):
            stages[f"{stage}_{field}"] = rng.uniform(low, high, len(stages))
    met = season.frame("ledger/entries_met")
    tables = {
        "ledger_base": pd.DataFrame({name: [float(value)] for name, value in vars(base).items()}),
        "ledger_states": pd.DataFrame({"position": position + 1, "owed": owed, **states}),
        "ledger_positions": pd.DataFrame({"position": np.arange(1, POSITIONS + 1), **means}),
        "ledger_leaves": pd.DataFrame(
            {
                "standing": masks,
                "pins": [float(int(mask).bit_count()) for mask in masks],
                "spare": rng.uniform(0, 1, FULL),
                "miss_pins": rng.uniform(0, 1, FULL),
            }
        ),
        "ledger_stages": stages,
        "ledger_boards_priced": met.drop(columns="bowler").assign(strike=rng.uniform(0, 1, len(met))),
    }
    for name, rows in tables.items():
        season.fill(name, rows.assign(**key).astype({c: "string" for c in ("pattern", "ball", "line") if c in rows}))
    for name in ("rack_worth", "leave_worth", "valued_deliveries"):
        season.connection.execute(sql(f"ledger/{name}"))
    return base
