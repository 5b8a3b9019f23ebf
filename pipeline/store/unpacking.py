"""Turn the bytes of a pack back into objects, never into code. See ``pack_form`` for the form."""

from __future__ import annotations

import dataclasses
import json
import sys
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from pydantic import BaseModel

from pipeline.inference.lazy import Lazy
from pipeline.store.pack_form import (
    DATES,
    HEAD_BYTES,
    MASKED,
    OURS,
    PLAIN_NUMBERS,
    SPARSE,
    PackError,
    is_record,
    record_name,
)

_CONTAINERS: dict[str, Callable[[list[Any]], Any]] = {"list": list, "tuple": tuple, "set": set, "frozenset": frozenset}


def unpack(content: bytes, apart: Callable[[int], bytes] | None = None, *, now: bool = True) -> Any:
    """What was packed; ``apart`` gives the pack of a ``Lazy`` by its place, at once or when its value is asked for.

    Raises:
        PackError: the bytes are no pack, or its records are not those of this program.
    """
    try:
        end = HEAD_BYTES + int.from_bytes(content[:HEAD_BYTES], "little")
        tree, places = json.loads(content[HEAD_BYTES:end])
        return _Unpacking(memoryview(content)[end:], places, apart, now).get(tree)
    except PackError:
        raise
    except Exception as error:  # whatever a damaged pack makes go wrong
        raise PackError(f"not a pack: {error}") from error


def _unpack_apart(apart: Callable[[int], bytes], place: int) -> Any:
    return unpack(apart(place))


def _record(name: str) -> type:
    """The record of this name among those loaded; a pack never makes a module load."""
    module, _, path = name.partition(":")
    named: Any = sys.modules.get(module) if module.startswith(OURS) else None
    for part in path.split("."):
        named = getattr(named, part, None)
    if not is_record(named) or record_name(named) != name:
        raise PackError(f"{name!r} is no record of this program")
    return named


class _Unpacking:
    """The values rebuilt from the tree."""

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
        if kind in DATES:
            return DATES[kind].fromisoformat(rest[0])  # type: ignore[attr-defined]
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
        if kind.kind not in PLAIN_NUMBERS + "U":
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

    def later(self, place: int) -> Lazy[Any]:
        if self._apart is None:
            raise PackError("a part kept apart is missing")
        value: Lazy[Any] = Lazy(partial(_unpack_apart, self._apart, place))
        if self._now:
            value.get()
        return value

    def mapping(self, items: list[list[Any]]) -> dict[Any, Any]:
        return {self.get(key): self.get(value) for key, value in items}

    def sparse(self, form: str, shape: list[int], *parts: Any) -> Any:
        return SPARSE[form](tuple(self.get(part) for part in parts), shape=tuple(shape))

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
        if dtype not in MASKED:
            raise PackError(f"a column of {dtype} is nothing that is packed")
        column = pd.Series(self.get(data)).astype(dtype)  # type: ignore[call-overload]
        return column.mask(self.get(mask)).array


_GET: dict[str, Callable[..., Any]] = {
    "record": _Unpacking.record,
    "array": _Unpacking.array,
    "objects": _Unpacking.objects,
    "scalar": _Unpacking.scalar,
    "dict": _Unpacking.mapping,
    "lazy": _Unpacking.later,
    "sparse": _Unpacking.sparse,
    "frame": _Unpacking.frame,
    "series": _Unpacking.series,
    "index": _Unpacking.index,
    "range": _Unpacking.range,
    "text": _Unpacking.text,
    "masked": _Unpacking.masked,
}
