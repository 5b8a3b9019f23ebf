"""Common spellings that no column asks for: words for an empty cell, other words for a choice, units, near ids."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from difflib import get_close_matches
from unicodedata import normalize

NOTHING = ("n/a", "#n/a", "na", "?", "??", "-", "--", "\u2013", "\u2014", "none", "null")
"""Written into an optional column by those who had nothing to write; taken as empty."""

_LONGEST_ID = 200
"""A longer text is no mistyped id, and comparing it would take long."""

BOTH_HANDS = ("both", "both hands", "either", "ambidextrous", "right/left", "left/right", "r/l", "l/r")

_OTHER_WORDS = {
    "hand": {
        **dict.fromkeys(("r", "rh", "right-handed", "right handed", "right hand"), "right"),
        **dict.fromkeys(("l", "lh", "left-handed", "left handed", "left hand"), "left"),
    },
    "style": {
        **dict.fromkeys(("1-handed", "1 handed", "1h", "1", "one hand"), "one-handed"),
        **dict.fromkeys(("2-handed", "2 handed", "2h", "2", "two hands"), "two-handed"),
    },
    "cover": {
        "plastic": "polyester",
        "solid reactive": "solid",
        "reactive solid": "solid",
        "pearl reactive": "pearl",
        "reactive pearl": "pearl",
        "hybrid reactive": "hybrid",
        "reactive hybrid": "hybrid",
    },
    "core": {"asym": "asymmetric", "sym": "symmetric", "asymmetrical": "asymmetric", "symmetrical": "symmetric"},
    "action": {"cleaned": "clean", "resurfaced": "resurface", "oil bath": "oil extraction"},
}
_UNITS = {
    "length_ft": ("feet", "ft", "'"),
    "volume_ml": ("ml",),
    "ratio": (":1", "to 1"),
    "rg_in": ("in", '"'),
    "diff_in": ("in", '"'),
    "int_diff_in": ("in", '"'),
    "games_before": ("games", "game"),
    "surface_grit": ("grit",),
    "grit": ("grit",),
}
TOTALS = r"(?:grand )?(?:sub-?)?totals?:?|sums?:?|averages?:?|avg\.?:?|means?:?"
"""A label of a row of totals, small letters; also matched by the database, so nothing that RE2 lacks."""


def is_nothing(text: str) -> bool:
    """Whether an optional column's text stands for an empty one."""
    return text.strip().lower() in NOTHING


def choice_of(column: str, word: str) -> str:
    """The column's own word for a choice, if ``word`` (lower case) is another one in common use."""
    return _OTHER_WORDS.get(column, {}).get(word, word)


def bare_number(column: str, text: str) -> str:
    """A number's text without a number sign in front or the column's own unit behind."""
    word = text.strip().removeprefix("#").strip()
    for unit in _UNITS.get(column, ()):
        if word.lower().endswith(unit):
            return word[: -len(unit)].strip()
    return word


def is_no_row(texts: dict[str, str], required: Iterable[str]) -> bool:
    """Whether a row is blank but for commas, or a line of totals under a table."""
    filled = [text for text in texts.values() if text]
    if not filled:
        return True
    missing = sum(not texts.get(name) for name in required)
    return missing > 0 and re.fullmatch(TOTALS, filled[0].lower()) is not None


def nearest(text: str, known: Collection[str]) -> str | None:
    """The known id that ``text`` most likely means: the same but for capitals and blanks, else a close one."""
    if len(text) > _LONGEST_ID:
        return None
    plain = {_plain(name): name for name in known}
    if _plain(text) in plain:
        return plain[_plain(text)]
    close = get_close_matches(_plain(text), list(plain), n=1, cutoff=0.75)
    return plain[close[0]] if close else None


def offer(text: str, known: Collection[str]) -> str:
    """The start of a mend that offers the nearest known id; empty if none is near."""
    near = nearest(text, known) if text else None
    return f"Did you mean {near}? " if near else ""


def unused(columns: Sequence[str], ours: Collection[str], lacking: Collection[str]) -> str:
    """A list of columns that are not read, each with the nearest of ours that the file lacks."""
    near = {name: near_column(name, ours) for name in columns}
    return ", ".join(f"{name} (nearest of ours: {n})" if n in lacking else name for name, n in near.items())


def near_column(name: str, known: Collection[str]) -> str | None:
    """The column that ``name`` most likely means: nearly the same, or one that begins with the same word."""
    plain = _plain(name).replace(" ", "_")
    close = get_close_matches(plain, list(known), n=1, cutoff=0.75)
    first = (ours for ours in known if ours.split("_")[0] == plain.split("_")[0])
    return close[0] if close else next(first, None)


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[\s_\-]+", " ", normalize("NFKC", text)).casefold().split())
