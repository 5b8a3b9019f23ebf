"""Classes of balls and of oil patterns. Limits come from the settings; their sources are named there."""

from __future__ import annotations

import math

from pipeline.settings import BallLimits, PatternLimits

# In order of cover within core; strength_rank() gives the order of grip in oil.
BALL_CLASSES: tuple[str, ...] = (
    "polyester",
    "urethane",
    "symmetric pearl",
    "symmetric hybrid",
    "symmetric solid",
    "asymmetric pearl",
    "asymmetric hybrid",
    "asymmetric solid",
)
PATTERN_CLASSES: tuple[str, ...] = ("short", "medium", "long")
UNKNOWN = "unknown"
_COVERS = ("polyester", "urethane", "pearl", "hybrid", "solid")
_CORES = ("symmetric", "asymmetric")
# Grip in oil from least to most, as commonly ranked (common practice). Urethane hooks early and smoothly and stands
# below the reactive covers in total hook. An asymmetric core is ranked above a symmetric one under the same cover.
_COVER_STRENGTH = {"polyester": 0.0, "urethane": 1.5, "pearl": 2.0, "hybrid": 3.0, "solid": 4.0}
_ASYMMETRY_ADDS = 0.75


def ball_class(cover: str, core: str) -> str:
    """Class of a ball by cover and core; polyester and urethane are not parted by core.

    Raises:
        ValueError: the cover or the core is unknown.
    """
    if cover not in _COVERS or core not in _CORES:
        raise ValueError(f"cover {cover!r} with core {core!r}: expected one of {_COVERS} with one of {_CORES}")
    return cover if cover in ("polyester", "urethane") else f"{core} {cover}"


def strength_rank(name: str) -> float:
    """Catalogue strength of a ball class in oil, higher hooks more; steps are ordinal (common practice).

    Raises:
        ValueError: the class is unknown.
    """
    if name not in BALL_CLASSES:
        raise ValueError(f"ball class {name!r}: expected one of {BALL_CLASSES}")
    core, _, cover = name.rpartition(" ")
    return _COVER_STRENGTH[cover] + (_ASYMMETRY_ADDS if core == "asymmetric" else 0.0)


def _missing(value: float | None) -> bool:
    return value is None or math.isnan(value)


def rg_class(rg_in: float | None, limits: BallLimits) -> str:
    """``low``, ``medium`` or ``high`` RG (inches); ``unknown`` if not given."""
    if rg_in is None or _missing(rg_in):
        return UNKNOWN
    if rg_in < limits.rg_low_to:
        return "low"
    return "high" if rg_in >= limits.rg_high_from else "medium"


def differential_class(diff_in: float | None, limits: BallLimits) -> str:
    """``low``, ``medium`` or ``high`` differential (inches); ``unknown`` if not given."""
    if diff_in is None or _missing(diff_in):
        return UNKNOWN
    if diff_in <= limits.diff_low_to:
        return "low"
    return "high" if diff_in >= limits.diff_high_from else "medium"


def surface_class(grit: float | None, limits: BallLimits) -> str:
    """``dull``, ``satin`` or ``polished`` by the grit of the last step; ``unknown`` if not given."""
    if grit is None or _missing(grit):
        return UNKNOWN
    if grit <= limits.dull_to_grit:
        return "dull"
    return "polished" if grit >= limits.polished_from_grit else "satin"


def length_class(length_ft: float, limits: PatternLimits | None = None) -> str:
    """``short``, ``medium`` or ``long`` by the pattern's length in feet."""
    limits = limits or PatternLimits()
    if length_ft <= limits.short_to_ft:
        return "short"
    return "long" if length_ft >= limits.long_from_ft else "medium"
