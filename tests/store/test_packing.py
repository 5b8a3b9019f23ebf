"""What is packed comes back to the digit and the type, and bytes that are no pack are refused."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import sparse

from pipeline.inference.lazy import Lazy
from pipeline.inference.mixed_logit.arrowhead import SymmetricLU
from pipeline.models.balls.ball_wear import AgeingFit
from pipeline.settings import Settings
from pipeline.store.pack_form import PackError
from pipeline.store.packing import pack
from pipeline.store.unpacking import unpack

SCALARS = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text()
TREES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner) | st.tuples(inner, inner) | st.dictionaries(st.text() | st.integers(), inner),
)


def same(a: object, b: object) -> bool:
    if type(a) is not type(b):
        return False
    if isinstance(a, dict) and isinstance(b, dict):
        return list(a) == list(b) and all(same(a[key], b[key]) for key in a)
    if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)):
        return len(a) == len(b) and all(map(same, a, b))
    return a == b


@given(TREES)
def test_plain_values(tree: object) -> None:
    assert same(unpack(pack(tree)), tree)


@pytest.mark.parametrize("value", [math.nan, math.inf, -0.0, 5e-324])
def test_odd_numbers_bit_by_bit(value: float) -> None:
    assert np.float64(unpack(pack(value))).tobytes() == np.float64(value).tobytes()
    assert unpack(pack(np.array([value]))).tobytes() == np.array([value]).tobytes()


@pytest.mark.parametrize(
    "array",
    [
        np.arange(24.0).reshape(2, 3, 4).transpose(2, 0, 1),
        np.asfortranarray(np.eye(3)),
        np.arange(10)[::2],
        np.zeros((0, 4)),
        np.array(7.5),
        np.array(["a", "bc"]),
        np.array(["a", None], dtype=object),
        np.array(["2026-01-02"], dtype="datetime64[us]"),
        np.array([True, False]),
    ],
)
def test_arrays_keep_values_and_the_order_of_their_axes(array: np.ndarray) -> None:
    read = unpack(pack(array))
    assert read.dtype == array.dtype and read.shape == array.shape and np.array_equal(read, array)
    by_stride = [np.argsort([-abs(stride) for stride in a.strides], kind="stable").tolist() for a in (read, array)]
    assert by_stride[0] == by_stride[1] or array.size == 0
    assert read.flags.writeable


def test_frames_keep_their_types() -> None:
    frame = pd.DataFrame(
        {
            "text": pd.array(["a", None], dtype="str"),
            "string": pd.array(["a", None], dtype="string"),
            "whole": pd.array([1, None], dtype="Int16"),
            "flag": pd.array([True, None], dtype="boolean"),
            "small": np.array([1, 2], dtype=np.int16),
            "day": pd.to_datetime(["2026-01-01", "2026-01-02"]),
            "odd": pd.Series(["a", 1.5], dtype=object),
        },
        index=pd.Index(["x", "y"], name="who"),
    )
    pd.testing.assert_frame_equal(unpack(pack(frame)), frame)
    for rows in (frame.reset_index(drop=True), frame.iloc[:0]):
        pd.testing.assert_frame_equal(unpack(pack(rows)), rows)


def test_dates_sets_and_sparse_matrices() -> None:
    values = [dt.date(2026, 1, 2), dt.datetime(2026, 1, 2, 3), pd.Timestamp("2026-01-02"), frozenset({"b", "a"})]
    assert same(unpack(pack(values)), values)
    for kind in (sparse.csr_array, sparse.csc_array):
        matrix = kind(sparse.random_array((6, 4), density=0.4, rng=np.random.default_rng(1)))
        read = unpack(pack(matrix))
        assert type(read) is kind and (read != matrix).nnz == 0


def test_settings_come_back_as_settings() -> None:
    assert unpack(pack(Settings())) == Settings()


def test_a_kept_factor_solves_and_draws_as_the_one_it_was() -> None:
    rng = np.random.default_rng(3)
    half = sparse.random_array((40, 40), density=0.1, rng=rng)
    matrix = (half @ half.T + 2 * sparse.eye_array(40)).tocsc()
    factor, right = SymmetricLU.of(matrix), rng.standard_normal((40, 3))
    kept = unpack(pack(factor))
    assert np.array_equal(kept.diagonal(), factor.diagonal()) and (kept.lower() != factor.lower()).nnz == 0
    assert np.array_equal(kept.places(), factor.places()) and np.array_equal(kept.elimination(), factor.elimination())
    assert np.allclose(matrix @ kept.solve(right), right, atol=1e-12)


@dataclass
class Foreign:
    """A record of the tests, none of the program's."""

    a: int


@pytest.mark.parametrize("value", [Foreign(1), lambda: 1, open, {1: object()}, np.array([1 + 2j])])
def test_what_is_no_data_is_not_packed(value: object) -> None:
    with pytest.raises(PackError, match="cannot be kept"):
        pack(value)


@pytest.mark.parametrize(
    "name",
    ["os:system", "pipeline.store.packing:pack", "pipeline.no:Such", "subprocess:Popen", "pipeline.cli:os.system"],
)
def test_a_pack_names_no_code(name: str) -> None:
    with pytest.raises(PackError, match="is no record"):
        unpack(packed(["record", name, {}]))


def packed(tree: object) -> bytes:
    head = json.dumps([tree, []]).encode()
    return len(head).to_bytes(8, "little") + head


def test_a_record_with_other_fields_is_refused() -> None:
    name = f"{AgeingFit.__module__}:{AgeingFit.__qualname__}"
    with pytest.raises(PackError, match="other fields"):
        unpack(packed(["record", name, {"a": 1}]))


@pytest.mark.parametrize("tree", [["array", 0], ["array", -1], ["what", 1], ["list"], ["objects", [2], []], []])
def test_a_tree_that_no_value_has_is_refused(tree: object) -> None:
    with pytest.raises(PackError):
        unpack(packed(tree))


@given(st.binary(max_size=200))
def test_bytes_of_something_else_are_refused_or_plain(content: bytes) -> None:
    try:
        read = unpack(content)
    except PackError:
        return
    assert read is None or isinstance(read, (bool, int, float, str, list, dict, tuple, set, frozenset, np.ndarray))


def test_a_later_value_is_packed_apart_and_read_at_once_or_when_asked_for() -> None:
    pieces: list[bytes] = []
    content = pack({"small": 1, "large": Lazy.of(np.arange(9.0))}, pieces)
    asked: list[int] = []
    unpacked = unpack(content, lambda place: (asked.append(place), pieces[place])[1], now=False)
    assert (len(pieces), asked) == (1, [])
    assert unpacked["large"].get().tolist() == unpacked["large"].get().tolist() == list(range(9)) and asked == [0]
    assert unpack(content, pieces.__getitem__)["large"].get().tolist() == list(range(9))
    with pytest.raises(PackError):
        unpack(content)
    with pytest.raises(PackError):
        unpack(content, [].__getitem__)
