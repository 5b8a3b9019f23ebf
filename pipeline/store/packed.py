"""Fitted objects as bytes and back, to the digit: numbers as raw arrays, the rest as JSON; never code.

A pack is a head of JSON and the arrays behind it. Reading one back makes nothing but numbers, texts, containers,
frames, sparse matrices and records of our own: dataclasses and pydantic models of ``pipeline`` that the program has
loaded already. So a pack can name no code to run, and what it gives is as harmless as the season's own numbers.

Arrays keep the order of their axes in memory: a sum along an axis rounds by it, and what is kept must equal, to the
digit, what is computed anew.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import sys
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from pydantic import BaseModel
from scipy import sparse

from pipeline.inference.later import Later

_HEAD = 8  # bytes that say how long the JSON is
_ALIGNED = 16
_PLAIN = "biufMm"  # kinds of numbers whose bytes are all there is to them
_OURS = "pipeline."
_MASKED = {
    "boolean": "bool",
    **{f"{sign}Int{bits}": f"{sign.lower()}int{bits}" for sign in ("", "U") for bits in (8, 16, 32, 64)},
}
_SPARSE = {"csr": sparse.csr_array, "csc": sparse.csc_array}


class PackError(ValueError):
    """Something that cannot be packed, or bytes that are no pack."""


def pack(value: object, apart: list[bytes] | None = None) -> bytes:
    """``value`` as bytes; a pack of each ``Later`` in it is added to ``apart``, for ``unpack`` to ask for by its place.

    Raises:
        PackError: it holds something that is no number, text, date, container, array, frame or record of ours.
    """
    packing = _Packing([] if apart is None else apart)
    tree = packing.put(value)
    head = json.dumps([tree, packing.places]).encode()
    return len(head).to_bytes(_HEAD, "little") + head + b"".join(packing.parts)


def unpack(content: bytes, apart: Callable[[int], bytes] | None = None, *, now: bool = True) -> Any:
    """What was packed; ``apart`` gives the pack of a ``Later`` by its place, at once or when its value is asked for.

    Raises:
        PackError: the bytes are no pack, or its records are not those of this program.
    """
    try:
        end = _HEAD + int.from_bytes(content[:_HEAD], "little")
        tree, places = json.loads(content[_HEAD:end])
        return _Unpacking(memoryview(content)[end:], places, apart, now).get(tree)
    except PackError:
        raise
    except Exception as error:  # whatever a damaged pack makes go wrong
        raise PackError(f"not a pack: {error}") from error


def _unpack_apart(apart: Callable[[int], bytes], place: int) -> Any:
    return unpack(apart(place))


def _record_name(kind: type) -> str:
    return f"{kind.__module__}:{kind.__qualname__}"


def _is_record(kind: object) -> bool:
    ours = isinstance(kind, type) and kind.__module__.startswith(_OURS)
    return ours and (dataclasses.is_dataclass(kind) or issubclass(kind, BaseModel))  # type: ignore[arg-type]


def _record(name: str) -> type:
    """The record of this name among those loaded; a pack never makes a module load."""
    module, _, path = name.partition(":")
    found: Any = sys.modules.get(module) if module.startswith(_OURS) else None
    for part in path.split("."):
        found = getattr(found, part, None)
    if not _is_record(found) or _record_name(found) != name:
        raise PackError(f"{name!r} is no record of this program")
    return found


class _Packing:
    """Values taken apart: a tree of JSON lists, each headed by its kind, and the bytes of the arrays."""

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
        if _is_record(type(value)):
            return self._put_record(value)
        raise PackError(f"{type(value).__module__}.{type(value).__qualname__} cannot be kept")

    def _put_record(self, value: Any) -> Any:
        if isinstance(value, BaseModel):
            names = list(type(value).model_fields)
        else:
            names = [field.name for field in dataclasses.fields(value)]
        return ["record", _record_name(type(value)), {name: self.put(getattr(value, name)) for name in names}]

    def array(self, value: np.ndarray) -> Any:
        if value.dtype == object:
            return ["objects", list(value.shape), [self.put(item) for item in value.ravel().tolist()]]
        if value.dtype.kind not in _PLAIN + "U":
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

    def later(self, value: Later[Any]) -> Any:
        self.apart.append(pack(value.get()))
        return ["later", len(self.apart) - 1]

    def mapping(self, value: Mapping[Any, Any]) -> Any:
        return ["dict", [[self.put(key), self.put(item)] for key, item in value.items()]]

    def items(self, value: Any) -> Any:
        kind = type(value)
        if kind not in (list, tuple, set, frozenset):
            raise PackError(f"{kind.__module__}.{kind.__qualname__} cannot be kept")
        items = sorted(value) if kind in (set, frozenset) else value
        return [kind.__name__, [self.put(item) for item in items]]

    def sparse(self, value: Any) -> Any:
        if value.format not in _SPARSE:
            raise PackError(f"a sparse matrix in form {value.format} cannot be kept")
        return ["sparse", value.format, list(value.shape), *map(self.array, (value.data, value.indices, value.indptr))]

    def date(self, value: dt.date) -> Any:
        kind = next(kind for kind in ("timestamp", "datetime", "date") if isinstance(value, _DATES[kind]))
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
        plain = _MASKED.get(value.dtype.name)
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
    (Later, _Packing.later),
    ((list, tuple, set, frozenset), _Packing.items),
    (dt.date, _Packing.date),
    (sparse.sparray, _Packing.sparse),
)
_DATES: dict[str, type] = {"timestamp": pd.Timestamp, "datetime": dt.datetime, "date": dt.date}
_CONTAINERS: dict[str, Callable[[list[Any]], Any]] = {"list": list, "tuple": tuple, "set": set, "frozenset": frozenset}


class _Unpacking:
    """The tree put together again."""

    def __init__(
        self, content: memoryview, places: list[list[Any]], apart: Callable[[int], bytes] | None, now: bool
    ) -> None:
        self._content, self._places, self._apart, self._now = content, places, apart, now

    def get(self, tree: Any) -> Any:
        if not isinstance(tree, list):
            return tree
        kind, *rest = tree
        if kind in _CONTAINERS:
            return _CONTAINERS[kind]([self.get(item) for item in rest[0]])
        if kind in _DATES:
            return _DATES[kind].fromisoformat(rest[0])  # type: ignore[attr-defined]
        known = _GET.get(kind)
        if known is None:
            raise PackError(f"{kind!r} is nothing that is packed")
        return known(self, *rest)

    def record(self, name: str, fields: dict[str, Any]) -> Any:
        kind = _record(name)
        values = {key: self.get(item) for key, item in fields.items()}
        if issubclass(kind, BaseModel):
            return kind.model_validate(values)
        if set(values) != {field.name for field in dataclasses.fields(kind)}:  # type: ignore[arg-type]
            raise PackError(f"{name} has other fields now")
        made = object.__new__(kind)
        for key, value in values.items():
            object.__setattr__(made, key, value)
        return made

    def array(self, place: int) -> np.ndarray:
        start, dtype, shape, axes = self._places[place]
        kind = np.dtype(dtype)
        if kind.kind not in _PLAIN + "U":
            raise PackError(f"an array of {dtype} is nothing that is packed")
        count = int(np.prod(shape, dtype=np.int64))
        flat = np.frombuffer(self._content, kind, count, start) if count else np.empty(0, kind)
        return flat.copy().reshape(shape).transpose(np.argsort(axes)) if axes else flat.copy().reshape(shape)

    def objects(self, shape: list[int], items: list[Any]) -> np.ndarray:
        out = np.empty(len(items), dtype=object)
        out[:] = [self.get(item) for item in items]
        return out.reshape(shape)

    def scalar(self, tree: Any) -> Any:
        return self.get(tree)[()]

    def later(self, place: int) -> Later[Any]:
        if self._apart is None:
            raise PackError("a part kept apart is missing")
        value: Later[Any] = Later(partial(_unpack_apart, self._apart, place))
        if self._now:
            value.get()
        return value

    def mapping(self, items: list[list[Any]]) -> dict[Any, Any]:
        return {self.get(key): self.get(value) for key, value in items}

    def sparse(self, form: str, shape: list[int], *parts: Any) -> Any:
        return _SPARSE[form](tuple(self.get(part) for part in parts), shape=tuple(shape))

    def frame(self, index: list[Any], columns: list[list[Any]]) -> pd.DataFrame:
        rows = self.get(index)
        held = {k: pd.Series(self.get(column), index=rows) for k, (_, column) in enumerate(columns)}
        frame = pd.DataFrame(held, index=rows)
        frame.columns = pd.Index([self.get(name) for name, _ in columns])
        return frame

    def series(self, index: list[Any], name: Any, column: list[Any]) -> pd.Series:
        return pd.Series(self.get(column), index=self.get(index), name=self.get(name))

    def index(self, name: Any, column: list[Any]) -> pd.Index:
        return pd.Index(self.get(column), name=self.get(name))

    def range(self, start: int, stop: int, step: int) -> pd.RangeIndex:
        return pd.RangeIndex(start, stop, step)

    def text(self, storage: Any, missing_is_na: bool, texts: list[str | None]) -> Any:
        return pd.array(texts, dtype=pd.StringDtype(storage, na_value=pd.NA if missing_is_na else np.nan))

    def masked(self, dtype: str, data: list[Any], mask: list[Any]) -> Any:
        if dtype not in _MASKED:
            raise PackError(f"a column of {dtype} is nothing that is packed")
        column = pd.Series(self.get(data)).astype(dtype)  # type: ignore[call-overload]
        return column.mask(self.get(mask)).array


_GET: dict[str, Callable[..., Any]] = {
    "record": _Unpacking.record,
    "array": _Unpacking.array,
    "objects": _Unpacking.objects,
    "scalar": _Unpacking.scalar,
    "dict": _Unpacking.mapping,
    "later": _Unpacking.later,
    "sparse": _Unpacking.sparse,
    "frame": _Unpacking.frame,
    "series": _Unpacking.series,
    "index": _Unpacking.index,
    "range": _Unpacking.range,
    "text": _Unpacking.text,
    "masked": _Unpacking.masked,
}
