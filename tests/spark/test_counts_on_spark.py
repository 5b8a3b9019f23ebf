"""The counts that models eat are the same to the row from Spark (local mode) as from DuckDB."""

from pathlib import Path

import pandas as pd
import pytest
from pyspark.sql import SparkSession

from pipeline.intake import load_folder
from pipeline.settings import Settings
from pipeline.store.season import open_season
from pipeline.store.spark import counting_queries, counts, write_tables

SAMPLE = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def spark_session():
    session = (
        SparkSession.builder.master("local[2]")
        .appName("rackledger test")
        .config("spark.ui.enabled", "false")
        .config("spark.sql.shuffle.partitions", "4")
        .getOrCreate()
    )
    yield session
    session.stop()


@pytest.fixture(scope="module")
def both(tmp_path_factory, spark_session):
    folder = tmp_path_factory.mktemp("spark")
    settings = Settings()
    load_folder(SAMPLE, folder / "season.duckdb")
    with open_season(folder / "season.duckdb", settings) as season:
        write_tables(season.connection, folder / "tables")
        from_duckdb = {query: season.frame(query, **bound) for query, bound in counting_queries(settings).items()}
    from_spark = {
        query: frame.toPandas() for query, frame in counts(spark_session, folder / "tables", settings).items()
    }
    return from_duckdb, from_spark


def _plain(frame: pd.DataFrame) -> list[tuple[str, ...]]:
    """Rows as sorted text, so that neither engine's types nor its order of rows matters."""
    as_text = frame.map(
        lambda value: "" if pd.isna(value) else f"{value:g}" if isinstance(value, float) else str(value)
    )
    return sorted(as_text.itertuples(index=False, name=None))


@pytest.mark.parametrize("query", counting_queries(Settings()))
def test_counts_are_identical(both, query):
    from_duckdb, from_spark = both
    assert list(from_duckdb[query].columns) == list(from_spark[query].columns)
    ours, theirs = from_duckdb[query].astype(object), from_spark[query].astype(object)
    for column in ours.columns:
        if pd.api.types.is_number(ours[column].dropna().iloc[0]):
            ours[column] = ours[column].astype(float)
            theirs[column] = theirs[column].astype(float)
    assert len(ours) > 20
    assert _plain(ours) == _plain(theirs)
