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


def _plain(frame: pd.DataFrame, numbers: list[str]) -> pd.DataFrame:
    """Numbers as floats and the rest as text, sorted, so that neither engine's types nor its order of rows matters."""
    plain = frame.astype(dict.fromkeys(numbers, float))
    texts = [name for name in frame.columns if name not in numbers]
    plain[texts] = plain[texts].astype(object).where(plain[texts].notna(), "").astype(str)
    return plain.sort_values([*texts, *numbers], key=lambda column: column.map(_short), ignore_index=True)


def _short(value: object) -> str:
    return f"{value:09.2f}" if isinstance(value, float) else str(value)


@pytest.mark.parametrize("query", counting_queries(Settings()))
def test_counts_are_identical(both, query):
    from_duckdb, from_spark = both
    ours, theirs = from_duckdb[query], from_spark[query]
    assert list(ours.columns) == list(theirs.columns)
    numbers = [name for name in ours.columns if pd.api.types.is_number(ours[name].dropna().iloc[0])]
    assert len(ours) > 20
    pd.testing.assert_frame_equal(
        _plain(ours, numbers), _plain(theirs, numbers), rtol=1e-12, check_dtype=False, check_column_type=False
    )
