"""The counts for Spark need no more than is written for it: each runs in an empty database that holds just that.

Whether Spark counts the same is for ``make spark``, which needs Java.
"""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd

from pipeline.models.fits import Fits
from pipeline.settings import Costs, Settings
from pipeline.store.season import Season
from pipeline.store.spark import VIEWS, counting_queries, write_tables
from queries import sql


def test_the_counts_come_from_the_tables_and_views_given_to_spark(sample: tuple[Season, Fits], tmp_path: Path) -> None:
    season, _ = sample
    with duckdb.connect() as alone:
        for file in write_tables(season.connection, tmp_path):
            alone.execute(f'CREATE TABLE "{file.stem}" AS FROM read_parquet(?)', [str(file)])
        for view in VIEWS:
            alone.execute(sql(view))
        for query, bound in counting_queries(season.settings).items():
            counted = alone.execute(sql(query), bound or None).df()
            pd.testing.assert_frame_equal(counted, season.frame(query, **bound), check_dtype=False)


def test_the_parameters_are_those_of_the_settings() -> None:
    often = Settings(costs=Costs(resurface_every_games=23.0))
    assert counting_queries(often)["cells/ball_wear"] == {"usual": 23.0}
