"""Fitted objects as bytes, to the digit: numbers as raw arrays, the rest as JSON; see ``pack_form`` for the form."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd
from pydantic import BaseModel
from scipy import sparse

from pipeline.inference.lazy import Lazy
from pipeline.store.pack_form import DATES, HEAD_BYTES, MASKED, PLAIN_NUMBERS, SPARSE, PackError, is_record, record_name

_ALIGNED = 16


def pack(value: object, apart: list[bytes] | None = None) -> bytes:
    """``value`` as bytes; a pack of each ``Lazy`` in it is added to ``apart``, for ``unpack`` to ask for by its place.

    Raises:
        PackError: it holds something other than numbers, texts, dates, containers, arrays, frames and our own records.
    """
    packing = _Packing([] if apart is None else apart)
    tree = packing.put(value)
    head = json.dumps([tree, packing.places]).encode()
    return len(head).to_bytes(HEAD_BYTES, "little") + head + b"".join(packing.parts)


class _Packing:
    """Values as a tree of JSON lists, each headed by its kind, and the bytes of the arrays."""

    def __init__(self, apart: list[bytes]) -> None:
        self.apart = apart
        self.places: list[list[Any]] = []
        self.parts: list[bytes] = []
        self._size = 0

    def put(self, value: object) -> Any:
        if value is None or type(value) in (bool, int, float, str):
            return value
        for kinds, put in _PUT:
            if isinstance(value, kinds):
                return put(self, value)
        if hasattr(value, "to_keep"):
            return self.put(value.to_keep())
        if is_record(type(value)):
            return self._put_record(value)
        raise PackError(f"{type(value).__module__}.{type(value).__qualname__} cannot be kept")

    def _put_record(self, value: Any) -> Any:
        if isinstance(value, BaseModel):
            names = list(type(value).model_fields)
        else:
            names = [field.name for field in dataclasses.fields(value)]
        return ["record", record_name(type(value)), {name: self.put(getattr(value, name)) for name in names}]

    def array(self, value: np.ndarray) -> Any:
        if value.dtype == object:
            return ["objects", list(value.shape), [self.put(item) for item in value.ravel().tolist()]]
        if value.dtype.kind not in PLAIN_NUMBERS + "U":
            raise PackError(f"an array of {value.dtype} cannot be kept")
        axes = sorted(range(value.ndim), key=lambda axis: -abs(value.strides[axis]))
        content = value.transpose(axes).tobytes()
        self.places.append([self._size, value.dtype.str, [value.shape[axis] for axis in axes], axes])
        padding = b"\0" * (-len(content) % _ALIGNED)
        self.parts += [content, padding]
        self._size += len(content) + len(padding)
        return ["array", len(self.places) - 1]

    def scalar(self, value: np.generic) -> Any:
        return ["scalar", self.array(np.asarray(value))]

    def later(self, value: Lazy[Any]) -> Any:
        self.apart.append(pack(value.get()))
        return ["lazy", len(self.apart) - 1]

    def mapping(self, value: Mapping[Any, Any]) -> Any:
        return ["dict", [[self.put(key), self.put(item)] for key, item in value.items()]]

    def items(self, value: Any) -> Any:
        kind = type(value)
        if kind not in (list, tuple, set, frozenset):
            raise PackError(f"{kind.__module__}.{kind.__qualname__} cannot be kept")
        items = sorted(value) if kind in (set, frozenset) else value
        return [kind.__name__, [self.put(item) for item in items]]

    def sparse(self, value: Any) -> Any:
        if value.format not in SPARSE:
            raise PackError(f"a sparse matrix in form {value.format} cannot be kept")
        return ["sparse", value.format, list(value.shape), *map(self.array, (value.data, value.indices, value.indptr))]

    def date(self, value: dt.date) -> Any:
        kind = next(kind for kind in ("timestamp", "datetime", "date") if isinstance(value, DATES[kind]))
        return [kind, value.isoformat()]

    def frame(self, value: pd.DataFrame) -> Any:
        columns = [[self.put(name), self.column(value.iloc[:, k])] for k, name in enumerate(value.columns)]
        return ["frame", self.index(value.index), columns]

    def series(self, value: pd.Series) -> Any:
        return ["series", self.index(value.index), self.put(value.name), self.column(value)]

    def index(self, value: pd.Index) -> Any:
        if isinstance(value, pd.RangeIndex):
            return ["range", value.start, value.stop, value.step]
        if isinstance(value, pd.MultiIndex):
            raise PackError("a frame with several levels of rows cannot be kept")
        return ["index", self.put(value.name), self.column(value.to_series())]

    def column(self, value: pd.Series) -> Any:
        if isinstance(value.dtype, pd.StringDtype):
            texts = [None if pd.isna(text) else str(text) for text in value.tolist()]
            return ["text", value.dtype.storage, value.dtype.na_value is pd.NA, texts]
        if isinstance(value.dtype, np.dtype):
            return self.array(value.to_numpy())
        plain = MASKED.get(value.dtype.name)
        if plain is None:
            raise PackError(f"a column of {value.dtype} cannot be kept")
        missing = value.isna().to_numpy()
        return ["masked", value.dtype.name, self.array(value.to_numpy(plain, na_value=0)), self.array(missing)]


_PUT: tuple[tuple[Any, Callable[[_Packing, Any], Any]], ...] = (
    (np.ndarray, _Packing.array),
    (np.generic, _Packing.scalar),
    (pd.DataFrame, _Packing.frame),
    (pd.Series, _Packing.series),
    (dict, _Packing.mapping),
    (Lazy, _Packing.later),
    ((list, tuple, set, frozenset), _Packing.items),
    (dt.date, _Packing.date),
    (sparse.sparray, _Packing.sparse),
)
