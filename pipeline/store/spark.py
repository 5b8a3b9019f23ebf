"""The same aggregating SQL on Apache Spark, for federations whose deliveries outgrow one machine.

Models read counts, so only the queries that make counts have to scale. Each one is written once, for DuckDB; here
sqlglot translates it and Spark runs it over the same tables stored as Parquet. Needs the optional extra ``spark``.

    python -m pipeline.store.spark TABLES_FOLDER COUNTS_FOLDER [MASTER]

TABLES_FOLDER holds one Parquet folder or file a table, as ``write_tables`` leaves them; COUNTS_FOLDER receives
one Parquet folder a query.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pyarrow import parquet

from pipeline.settings import Settings
from pipeline.store.season import LOAD_STEP
from queries import sql

if TYPE_CHECKING:
    import duckdb

TABLES = (
    "deliveries", "bowlers", "blocks", "patterns", "balls", "maintenance",
    "ball_classes", "pattern_classes", "lines", "entry_zones", "leave_types", "phases",
)  # fmt: skip
"""Everything the counts read: six logged tables and the small tables of the trade."""

VIEWS = ("views/first_balls", "views/ball_games", "views/care_days")
COUNTS: dict[str, dict[str, float]] = {
    "cells/leave_cells": {},
    "cells/spare_cells": {},
    "cells/worth_cells": {"load_step": LOAD_STEP},
    "cells/entry_cells": {},
    "cells/ball_wear": {"usual": Settings().costs.resurface_every_games},
}
"""The counts that the models are fitted to, with their parameters."""


def write_tables(connection: duckdb.DuckDBPyConnection, folder: Path) -> list[Path]:
    """Write every table the counts need as ``folder/<table>.parquet``.

    Args:
        connection: an open season, small tables of the trade included; it may not touch files itself.
        folder: made where it is missing.
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


def counts(session: Any, folder: Path) -> dict[str, Any]:
    """Run every counting query over the Parquet tables in ``folder``.

    Args:
        session: a ``pyspark.sql.SparkSession``, local or of a cluster.

    Returns:
        query name -> Spark DataFrame, not yet computed.
    """
    for table in TABLES:
        session.read.parquet(str(folder / f"{table}.parquet")).createOrReplaceTempView(table)
    for view in VIEWS:
        session.sql(translated(view))
    return {query: session.sql(translated(query), args=bound) for query, bound in COUNTS.items()}


def main(arguments: list[str]) -> None:
    """Count the deliveries in one folder into another, on the given master (this machine where none is given)."""
    from pyspark.sql import SparkSession

    tables, results = Path(arguments[0]), Path(arguments[1])
    builder = SparkSession.builder.appName("rackledger counts")
    session = builder.master(arguments[2] if len(arguments) > 2 else "local[*]").getOrCreate()
    try:
        for query, frame in counts(session, tables).items():
            frame.write.mode("overwrite").parquet(str(results / query))
    finally:
        session.stop()


if __name__ == "__main__":
    main(sys.argv[1:])
