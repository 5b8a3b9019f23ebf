"""The same aggregating SQL on Apache Spark, for federations whose deliveries outgrow one machine.

Models read counts, so only the queries that make counts have to scale. Each one is written once, for DuckDB; here
sqlglot translates it and Spark runs it over the same tables stored as Parquet. Needs the optional extra ``spark``.

    python -m pipeline.store.spark tables season.duckdb TABLES [--settings FILE]
    python -m pipeline.store.spark count TABLES COUNTS [--master spark://HOST:7077] [--settings FILE]

TABLES holds one Parquet folder or file per table, as the first command leaves them; COUNTS receives one Parquet folder
per query.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pyarrow import parquet

from pipeline.settings import Settings, read_settings
from pipeline.store.season import LOAD_STEP, open_season
from queries import sql

if TYPE_CHECKING:
    import duckdb

TABLES = (
    "deliveries", "bowlers", "blocks", "patterns", "balls", "maintenance",
    "ball_classes", "pattern_classes", "lines", "entry_zones", "leave_types", "phases", "block_stretches",
)  # fmt: skip
"""Everything the counts read: six logged tables, the small tables of the sport, and the stretch of each block."""

VIEWS = ("views/first_balls", "views/ball_games", "views/care_days", "views/care_games", "views/care_so_far")
"""The views the counts read, each after those it reads itself."""


def counting_queries(settings: Settings) -> dict[str, dict[str, float]]:
    """The queries of the counts that the models are fitted to, with their parameters."""
    return {
        "cells/leave_cells": {},
        "cells/spare_cells": {},
        "cells/worth_cells": {"load_step": LOAD_STEP},
        "cells/entry_cells": {},
        "cells/ball_wear": {"usual": settings.costs.resurface_every_games},
    }


def write_tables(connection: duckdb.DuckDBPyConnection, folder: Path) -> list[Path]:
    """Write every table the counts need as ``folder/<table>.parquet``.

    Args:
        connection: an open season, small tables of the sport included; it may not touch files itself.
        folder: made if it is missing.
    """
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for table in TABLES:
        files.append(folder / f"{table}.parquet")
        parquet.write_table(connection.table(table).to_arrow_table(), files[-1])
    return files


def translated(query: str) -> str:
    """``queries/<query>.sql`` in Spark's dialect."""
    import sqlglot

    return sqlglot.transpile(sql(query), read="duckdb", write="spark", comments=False)[0]


def counts(session: Any, folder: Path, settings: Settings) -> dict[str, Any]:
    """Run every counting query over the Parquet tables in ``folder``.

    Args:
        session: a ``pyspark.sql.SparkSession``, local or of a cluster.
        folder: as ``write_tables`` leaves it.
        settings: those the tables were written with.

    Returns:
        query name -> Spark DataFrame, not yet computed.
    """
    for table in TABLES:
        session.read.parquet(str(folder / f"{table}.parquet")).createOrReplaceTempView(table)
    for view in VIEWS:
        session.sql(translated(view))
    return {query: session.sql(translated(query), args=bound) for query, bound in counting_queries(settings).items()}


def _write(arguments: argparse.Namespace, settings: Settings) -> None:
    with open_season(arguments.source, settings) as season:
        write_tables(season.connection, arguments.results)


def _count(arguments: argparse.Namespace, settings: Settings) -> None:
    from pyspark.sql import SparkSession

    session = SparkSession.builder.appName("rackledger counts").master(arguments.master).getOrCreate()
    try:
        for query, frame in counts(session, arguments.source, settings).items():
            frame.write.mode("overwrite").parquet(str(arguments.results / query))
    finally:
        session.stop()


def main() -> None:
    """Write a season's tables as Parquet, or count the deliveries of such a folder into another."""
    parser = argparse.ArgumentParser(prog="python -m pipeline.store.spark", description=main.__doc__)
    commands = parser.add_subparsers(required=True)
    for name, run in (("tables", _write), ("count", _count)):
        command = commands.add_parser(name)
        command.add_argument("source", type=Path, help="the season's database" if run is _write else "its tables")
        command.add_argument("results", type=Path, help="folder to write to")
        command.add_argument("--settings", type=Path, help="TOML file that replaces default limits and costs")
        command.set_defaults(run=run)
    command.add_argument("--master", default="local[*]", help="the cluster; by default this machine")
    arguments = parser.parse_args()
    arguments.run(arguments, read_settings(arguments.settings))


if __name__ == "__main__":
    main()
