"""A simulated season as an open season: its frames put straight into the stored tables, no files between."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

import duckdb
import numpy as np
import pandas as pd

from pipeline.settings import Settings
from pipeline.store.season import Season, prepare
from queries import names, sql


class Simulated(Protocol):
    """What a simulated season shows: logged frames, and racks row by row beside all its shots."""

    @property
    def frames(self) -> dict[str, pd.DataFrame]: ...

    @property
    def racks(self) -> pd.DataFrame: ...

    @property
    def shots(self) -> pd.DataFrame: ...


@contextmanager
def open_simulated(simulated: Simulated, settings: Settings) -> Iterator[Season]:
    """Open a season simulated without logging mistakes."""
    connection = duckdb.connect(":memory:")
    connection.execute("SET threads = 1")
    try:
        for name in names("schema"):
            connection.execute(sql(name))
        for table in ("bowlers", "balls", "patterns", "blocks", "maintenance"):
            _insert(connection, table, simulated.frames[table])
        _insert(connection, "deliveries", _deliveries(simulated))
        yield prepare(connection, settings)
    finally:
        connection.close()


def _deliveries(simulated: Simulated) -> pd.DataFrame:
    shots = simulated.shots
    return shots.drop(columns="leave").assign(
        facing=simulated.racks["facing"].to_numpy(),
        standing=simulated.racks["standing"].to_numpy(),
        first_ball=simulated.racks["first_ball"].to_numpy(),
        foul=(shots["foul"] == "yes").to_numpy(),
        repaired=False,
    )


def _insert(connection: duckdb.DuckDBPyConnection, table: str, rows: pd.DataFrame) -> None:
    rows = rows.replace({"": None}).assign(source_file="simulated", line=np.arange(len(rows)) + 2)
    connection.register("new_rows", rows)
    connection.execute(f"INSERT INTO {table} BY NAME SELECT * FROM new_rows")
    connection.unregister("new_rows")
