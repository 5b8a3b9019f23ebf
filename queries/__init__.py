"""SQL of the pipeline, one statement per file, read as ``folder/name``.

schema: stored tables. load: checking and storing shot files. views: what every query reads. scope: showing less of an
open season. cells: counts and tables that models and decisions read.
"""

from functools import cache
from pathlib import Path

_FOLDER = Path(__file__).parent


@cache
def sql(name: str) -> str:
    """Text of ``queries/<name>.sql``, for example ``cells/worth_cells``.

    Raises:
        FileNotFoundError: no query of that name.
    """
    return (_FOLDER / f"{name}.sql").read_text(encoding="utf-8")


def names(folder: str = "*") -> list[str]:
    """Names of all queries in ``folder`` in alphabetical order; a view stands after those it reads."""
    return sorted(f"{path.parent.name}/{path.stem}" for path in _FOLDER.glob(f"{folder}/*.sql"))
