"""A season opened for reading: the database, the sport's tables beside it, and the queries by name."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path

import duckdb
import pandas as pd

from pipeline.errors import RackledgerError
from pipeline.settings import Settings
from pipeline.sport import classes, lane, leaves
from pipeline.store.database import explained, open_for_reading
from pipeline.store.interrupts import stoppable
from pipeline.store.period import Period
from queries import names, sql

LOAD_STEP = 20
"""Deliveries on a pair by which the cells of the worth model distinguish its load."""
_OLDEST_GAME = 60  # no block runs longer; later games keep the last phase of the table
_MEMORY_FOR_COUNTING = "1500MB"
_QUICK_TEXT = "python"  # of thousands of small frames; text as Arrow keeps it is smaller, and slower to get at
_MOST_HELD = 20_000  # rows of an answer up to which it is held in memory
_ONE_THREAD_TO = 500_000  # deliveries up to which queries run on one thread


class EmptySeasonError(RackledgerError):
    """The database holds no delivery to fit."""


@dataclass(frozen=True)
class Season:
    """An open season. ``connection`` is read-only except for temporary tables; ``held`` caches query results.

    ``period``: the nights a report is about; None for all. The models learn from all nights either way. ``others``: the
    connections of seasons that show less of the same log (``store/shown``), closed with this one. ``of_large_log``:
    whether the whole log is large, however little of it is shown.
    """

    connection: duckdb.DuckDBPyConnection
    settings: Settings
    held: dict[tuple[object, ...], pd.DataFrame] = field(default_factory=dict, repr=False, compare=False)
    period: Period | None = None
    others: list[duckdb.DuckDBPyConnection] = field(default_factory=list, repr=False, compare=False)
    of_large_log: bool = False

    def frame(self, query: str, **parameters: object) -> pd.DataFrame:
        """Rows of ``queries/<query>.sql`` with the bound ``parameters`` (``$name`` in the SQL)."""
        asked = (query, *sorted(parameters.items()))
        if asked in self.held:
            return self.held[asked].copy(deep=False)
        cursor = self.connection.execute(sql(query), parameters) if parameters else self.connection.execute(sql(query))
        rows = cursor.df()
        if len(rows) <= _MOST_HELD:
            self.held[asked] = rows.copy(deep=False)
        return rows

    def frame_of(self, query: str, bowlers: Collection[str]) -> pd.DataFrame:
        """Rows of a query without parameters, for these bowlers only; it must have a column ``bowler``."""
        wanted = map(duckdb.ConstantExpression, sorted(bowlers))
        return self.connection.sql(sql(query)).filter(duckdb.ColumnExpression("bowler").isin(*wanted)).df()

    def fill(self, name: str, rows: pd.DataFrame) -> None:
        """Make ``rows`` a temporary table of that name, replacing any earlier one."""
        _fill(self.connection, name, rows)

    def large(self) -> bool:
        """Whether there are more deliveries than one club's season holds."""
        (number,) = self.connection.execute("SELECT count(*) FROM deliveries").fetchall()[0]
        return bool(number > _ONE_THREAD_TO)

    def table(self, name: str) -> pd.DataFrame:
        """Every row of one stored table.

        Raises:
            ValueError: the name is not one of the season's tables.
        """
        known = {row[0] for row in self.connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()}
        if name not in known:
            raise ValueError(f"{name!r} is not a table of the season; known are {', '.join(sorted(known))}")
        return self.connection.table(name).df()


def _ball_classes(balls: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """One row per ball: its class by cover and core, and the classes of RG, differential and surface."""
    limits = settings.ball
    return pd.DataFrame(
        {
            "ball": balls["ball"].astype(str),
            "ball_class": [classes.ball_class(*pair) for pair in zip(balls["cover"], balls["core"], strict=True)],
            "rg_class": [None if pd.isna(v) else classes.rg_class(float(v), limits) for v in balls["rg_in"]],
            "diff_class": [
                None if pd.isna(v) else classes.differential_class(float(v), limits) for v in balls["diff_in"]
            ],
            "surface_class": [
                None if pd.isna(v) else classes.surface_class(int(v), limits) for v in balls["surface_grit"]
            ],
        },
        columns=["ball", "ball_class", "rg_class", "diff_class", "surface_class"],
    ).astype("string")


def _pattern_classes(patterns: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """One row per pattern with a length: its class."""
    patterns = patterns[patterns["length_ft"].notna()]
    return pd.DataFrame(
        {
            "pattern": patterns["pattern"].astype(str),
            "pattern_class": [classes.length_class(float(v), settings.pattern) for v in patterns["length_ft"]],
        },
        columns=["pattern", "pattern_class"],
    ).astype("string")


def _fill(connection: duckdb.DuckDBPyConnection, name: str, rows: pd.DataFrame) -> None:
    connection.register("rows_to_fill", rows)
    connection.execute(f'CREATE OR REPLACE TEMP TABLE "{name}" AS SELECT * FROM rows_to_fill')
    connection.unregister("rows_to_fill")


def _settle_order(connection: duckdb.DuckDBPyConnection) -> None:
    """One thread for a season of usual size: threads add decimals in any order, but a report must repeat.

    A larger log is counted within a limit of memory, beyond which the database spills, since the fit needs the rest.
    """
    if connection.table("deliveries").shape[0] <= _ONE_THREAD_TO:
        connection.execute("SET threads = 1")
    else:
        connection.execute("SET memory_limit = ?", [_MEMORY_FOR_COUNTING])


def _hold_first_balls(connection: duckdb.DuckDBPyConnection) -> None:
    """Compute once what many queries read: the view's rows become a temporary table, and the view reads that."""
    connection.execute(sql("scope/first_ball_cache"))
    connection.execute(sql("scope/first_balls_from_cache"))


def prepare(connection: duckdb.DuckDBPyConnection, settings: Settings) -> Season:
    """Put the sport's tables and the views of ``queries/views`` beside the stored tables of ``connection``.

    The first deliveries of a usual season are held as a table; those of a large one would not fit and stay a view.
    """
    _settle_order(connection)
    _fill(connection, "ball_classes", _ball_classes(connection.table("balls").df(), settings))
    _fill(connection, "pattern_classes", _pattern_classes(connection.table("patterns").df(), settings))
    _fill(connection, "lines", lane.line_table())
    _fill(connection, "entry_zones", lane.entry_zone_table(settings.pocket))
    _fill(connection, "leave_types", leaves.leave_table())
    _fill(connection, "phases", lane.phase_table(settings.phases, to_game=_OLDEST_GAME))
    for view in names("views"):
        connection.execute(sql(view))
    connection.execute(sql("scope/block_stretches"))
    season = Season(connection, settings)
    if season.large():
        return replace(season, of_large_log=True)
    _hold_first_balls(connection)
    return season


def _one_thread() -> AbstractContextManager[object]:
    """Linear algebra on one thread, as in the command: matrices are small, and threads change the rounding."""
    if os.environ.get("OPENBLAS_NUM_THREADS") == "1":
        return nullcontext()
    import scipy.linalg  # noqa: F401  # has a library of its own, which can be limited once it is there
    from threadpoolctl import threadpool_limits

    return threadpool_limits(limits=1, user_api="blas")


def _close(connections: list[duckdb.DuckDBPyConnection]) -> None:
    for connection in connections:
        connection.close()


@contextmanager
def open_season(database: Path, settings: Settings) -> Iterator[Season]:
    """Open the season's database for reading, with the sport's tables and the view of first deliveries in place.

    Raises:
        IntakeError: the file is missing, of another version, or being written by another process; or it proves
            damaged while it is read, since a block's checksum is first looked at then.
    """
    others: list[duckdb.DuckDBPyConnection] = []
    with explained(database), open_for_reading(database) as connection, _one_thread(), ExitStack() as at_end:
        at_end.callback(_close, others)
        at_end.enter_context(stoppable(connection, others))
        season = replace(prepare(connection, settings), others=others)
        with pd.option_context("mode.string_storage", "auto" if season.large() else _QUICK_TEXT):
            yield season
