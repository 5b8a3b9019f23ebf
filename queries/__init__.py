"""SQL of the pipeline, one statement a file, read by name."""

from functools import cache
from pathlib import Path

_FOLDER = Path(__file__).parent


@cache
def sql(name: str) -> str:
    """Text of ``queries/<name>.sql``.

    Raises:
        FileNotFoundError: no query of that name.
    """
    return (_FOLDER / f"{name}.sql").read_text(encoding="utf-8")


def names(prefix: str = "") -> list[str]:
    """Names of all queries that start with ``prefix``, in the order they run."""
    return sorted(path.stem for path in _FOLDER.glob(f"{prefix}*.sql"))
