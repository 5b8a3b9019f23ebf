"""Whatever stands in a settings file or a column map: it is taken or refused in one sentence."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable
from pathlib import Path

from hypothesis import example, given
from hypothesis import strategies as st
from pydantic import BaseModel

from pipeline.errors import RackledgerError, printable
from pipeline.intake.files.column_map import read_column_map
from pipeline.settings import Settings, read_settings
from tests.fuzz.profile import cases

_NAMES = [
    f"{section}.{name}"
    for section, part in Settings()
    if isinstance(part, BaseModel)
    for name in type(part).model_fields
]
_NAMES += ["seasons.s", "seasons.s.first", "seasons.s.last"]
_KEYS = st.one_of(
    st.sampled_from(
        [*_NAMES, "ball", "evidence", "shots.columns.leave", "shots.values.foul", "bowlers.constants.hand"]
    ),
    st.just('"a\\nb\\u001b[31m"'),
    st.text(max_size=12),
)
_VALUES = st.one_of(
    st.integers().map(str),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.sampled_from([
        "nan", "inf", "-inf", "true", '""', "[]", "{}", "1979-05-27", "07:32:00", "1e400", "0x7f", '"""\n\n"""',
        '"\\u0000"',
        "9" * 5000, "[" * 3000, "{a=" * 3000, "10", "0.5", "{ yes = 1 }",
    ]),
    st.text(max_size=20),
)  # fmt: skip
_FILES = st.one_of(
    st.lists(st.tuples(_KEYS, _VALUES), max_size=4).map(
        lambda pairs: "\n".join(f"{k} = {v}" for k, v in pairs).encode()
    ),
    st.binary(max_size=60),
    st.text(max_size=60).map(lambda text: text.encode("utf-8", "ignore")),
)
DEEP, LONG = b"a = " + b"[" * 5000, b"evidence.seed = " + b"9" * 5000


def read_or_refused(read: Callable[[Path], object], content: bytes) -> object:
    """What ``read`` makes of a file, or nothing where it is refused in words."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "file.toml"
        path.write_bytes(content)
        try:
            return read(path)
        except RackledgerError as error:
            assert str(error).startswith(str(path))
            assert len(printable(str(error)).splitlines()) == 1
            return None


@cases(quick=150, many=5000)
@given(_FILES)
@example(DEEP)
@example(LONG)
@example(b'"a\\nb" = 1')
@example(b"[costs]\nclean = inf")
def test_settings(content: bytes) -> None:
    settings = read_or_refused(read_settings, content)
    if settings is not None:
        numbers = [value for _, section in settings if isinstance(section, BaseModel) for _, value in section]
        assert all(math.isfinite(number) for number in numbers)


@cases(quick=150, many=5000)
@given(_FILES)
@example(DEEP)
@example(LONG)
@example(b'[shots.columns]\n"a\\nb\\u001b[31m" = 1')
def test_column_maps(content: bytes) -> None:
    read_or_refused(read_column_map, content)
