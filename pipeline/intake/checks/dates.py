"""Dates as people and spreadsheets write them, and leaves that a spreadsheet took for dates.

A leave typed as 7-10 turns into the seventh of October or the tenth of July: either way the numbers of its day and
month are the pins. Three pins such as 3-6-10 turn into a day, a month and the year 2010. Spreadsheets may also show
the date as its serial number, counted in days from 1899-12-30.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

from pipeline.sport.leaves import from_pins

_MONTHS = dict(jan=1, feb=2, mar=3, apr=4, may=5, jun=6, jul=7, aug=8, sep=9, oct=10, nov=11, dec=12)
_WORD = "|".join(_MONTHS)
_TIME = r"(?:[ t]0{1,2}:00(?::00(?:\.0+)?)?)?"
_ISO = re.compile(rf"(\d{{4}})[-/.](\d{{1,2}})[-/.](\d{{1,2}}){_TIME}")
_NUMBERS = re.compile(rf"(\d{{1,2}})([-/.])(\d{{1,2}})\2(\d{{4}}|\d{{2}}){_TIME}")
_DAY_WORD = re.compile(rf"(\d{{1,2}})[-/. ]*({_WORD})[a-z]*\.?[-/, ]*(\d{{4}}|\d{{2}})?{_TIME}")
_WORD_DAY = re.compile(rf"({_WORD})[a-z]*\.?[-/. ]*(\d{{1,2}})(?:[-/, ]+(\d{{4}}|\d{{2}}))?{_TIME}")
_SERIAL = re.compile(r"([2-6]\d{4})(?:\.0+)?")
_SLASHES = re.compile(r"s?\s*\d{1,2}(?:/\d{1,2})+")
_TIME_OF_DAY = re.compile(r"[ t]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[ap]m)?z?$")
_ORDERS = ("day", "month")
_EPOCH = dt.date(1899, 12, 30)
_FIRST, _LAST = dt.date(1950, 1, 1), dt.date(2100, 12, 31)


def read_dates(texts: Iterable[str], known_days: Iterable[tuple[str, dt.date]] = ()) -> dict[str, dt.date | None]:
    """Text -> date, for one file's texts; None if a text is no date or its day and month cannot be told apart.

    Numbers such as 3/4/2026 are read day first or month first by what the whole file's dates allow, and if they allow
    both by ``known_days``; with dots the day always comes first.

    Args:
        texts: as written.
        known_days: texts of the file, each with the day it should be by another file, such as that of its block.
    """
    known = set(texts)
    shapes = [m for text in known if (m := _NUMBERS.fullmatch(_day(text))) and m[2] != "."]
    day_first = any(int(m[1]) > 12 for m in shapes)
    month_first = any(int(m[3]) > 12 for m in shapes)
    order = None if day_first == month_first else "day" if day_first else "month"
    if not (day_first or month_first):
        order = _order_by(known_days)
    return {text: _read_date(_day(text), order) for text in known}


def _order_by(known_days: Iterable[tuple[str, dt.date]]) -> str | None:
    """The one order of day and month under which every text that tells them apart is its day, or one beside it."""
    orders = set()
    for text, day in known_days:
        shape = _NUMBERS.fullmatch(_day(text))
        if shape and shape[2] != ".":
            read = {order: _from_numbers(int(shape[1]), int(shape[3]), _year(shape[4]), order) for order in _ORDERS}
            right = {order for order, date in read.items() if date and abs(date - day) <= dt.timedelta(days=1)}
            orders |= right if len(right) == 1 else set()
    return orders.pop() if len(orders) == 1 else None


def _day(text: str) -> str:
    """The text without a time of day behind it."""
    return _TIME_OF_DAY.sub("", text.strip().lower())


def _read_date(text: str, order: str | None) -> dt.date | None:
    if m := _ISO.fullmatch(text):
        return _date(int(m[1]), int(m[2]), int(m[3]))
    if m := _NUMBERS.fullmatch(text):
        return _from_numbers(int(m[1]), int(m[3]), _year(m[4]), "day" if m[2] == "." else order)
    if (m := _DAY_WORD.fullmatch(text)) and m[3]:
        return _date(_year(m[3]), _MONTHS[m[2]], int(m[1]))
    if (m := _WORD_DAY.fullmatch(text)) and m[3]:
        return _date(_year(m[3]), _MONTHS[m[1]], int(m[2]))
    if m := _SERIAL.fullmatch(text):
        return _EPOCH + dt.timedelta(days=int(m[1]))
    return None


def _from_numbers(first: int, second: int, year: int, order: str | None) -> dt.date | None:
    if first == second or first > 12:
        order = "day"
    elif second > 12:
        order = "month"
    if order is None:
        return None
    return _date(year, second, first) if order == "day" else _date(year, first, second)


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        date = dt.date(year, month, day)
    except ValueError:
        return None
    return date if _FIRST <= date <= _LAST else None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def looks_like_a_date(text: str) -> bool:
    """Whether a leave's text has the shape of a date rather than of pins."""
    word = text.strip().lower()
    shapes = (_ISO, _DAY_WORD, _WORD_DAY, _SERIAL)
    if any(shape.fullmatch(word) for shape in shapes):
        return True
    numbers = _NUMBERS.fullmatch(word)
    return numbers is not None and (len(numbers[4]) == 4 or numbers[2] != "-" or int(numbers[4]) > 10)


def joined_by_slashes(text: str) -> bool:
    """Whether pins stand with slashes between them, as in 6/10: typed so, or the day and month a spreadsheet shows."""
    return _SLASHES.fullmatch(text.strip().lower()) is not None


def leave_from_date(text: str, facing: int) -> int | None:
    """The one leave behind a date, or None.

    Args:
        text: a text that looks like a date.
        facing: pins standing before the delivery; a leave may hold no other pin.

    Returns:
        The bitmask of pins if exactly one reading is legal, else None.
    """
    legal = set()
    for reading in _readings(text.strip().lower()):
        if len(set(reading)) == len(reading) and all(1 <= pin <= 10 for pin in reading):
            legal |= {mask for mask in (from_pins(reading),) if mask & ~facing == 0}
    return legal.pop() if len(legal) == 1 else None


def _readings(word: str) -> list[list[int]]:
    if m := _ISO.fullmatch(word):
        return _with_year(int(m[1]), [int(m[2]), int(m[3])])
    if m := _NUMBERS.fullmatch(word):
        return _with_year(_year(m[4]), [int(m[1]), int(m[3])])
    if m := _DAY_WORD.fullmatch(word):
        return _with_year(_year(m[3]) if m[3] else 0, [int(m[1]), _MONTHS[m[2]]])
    if m := _WORD_DAY.fullmatch(word):
        return _with_year(_year(m[3]) if m[3] else 0, [_MONTHS[m[1]], int(m[2])])
    if m := _SERIAL.fullmatch(word):
        date = _EPOCH + dt.timedelta(days=int(m[1]))
        return _with_year(date.year, [date.month, date.day])
    return []


def _with_year(year: int, pins: list[int]) -> list[list[int]]:
    """Years 2001 to 2010 are third pins; any other year is the one in which the leave was typed."""
    return [[*pins, year - 2000]] if 2001 <= year <= 2010 else [pins]
