"""The form of a pack: what may be in one, and what it is called there.

A pack is a head of JSON and the arrays behind it. Reading one back makes nothing but numbers, texts, containers,
frames, sparse matrices and our own records: dataclasses and pydantic models of ``pipeline`` that the program has
already loaded. So a pack cannot name code to run, and its contents are as harmless as the season's own numbers.

Arrays keep the order of their axes in memory: the rounding of a sum depends on it, and a kept fit must equal
a new one to the last digit.
"""

from __future__ import annotations

import dataclasses
import datetime as dt

import pandas as pd
from pydantic import BaseModel
from scipy import sparse

HEAD_BYTES = 8
"""Bytes that say how long the JSON is."""
PLAIN_NUMBERS = "biufMm"
"""Kinds of numbers whose bytes are all there is to them."""
OURS = "pipeline."
"""What the modules of the records begin with."""
MASKED = {
    "boolean": "bool",
    **{f"{sign}Int{bits}": f"{sign.lower()}int{bits}" for sign in ("", "U") for bits in (8, 16, 32, 64)},
}
"""Columns of numbers that may miss some: what pandas calls each, and the numbers behind it."""
SPARSE = {"csr": sparse.csr_array, "csc": sparse.csc_array}
DATES: dict[str, type] = {"timestamp": pd.Timestamp, "datetime": dt.datetime, "date": dt.date}


class PackError(ValueError):
    """Something that cannot be packed, or bytes that are no pack."""


def record_name(kind: type) -> str:
    """What a pack calls a record: its module and class."""
    return f"{kind.__module__}:{kind.__qualname__}"


def is_record(kind: object) -> bool:
    """Whether it is a dataclass or pydantic model of ours."""
    ours = isinstance(kind, type) and kind.__module__.startswith(OURS)
    return ours and (dataclasses.is_dataclass(kind) or issubclass(kind, BaseModel))  # type: ignore[arg-type]
