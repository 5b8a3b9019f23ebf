"""Are verdicts right as often as their probability says: a table by kind and stated probability.

Standard errors take the season as the unit, as in ``summary``.
"""

from __future__ import annotations

import pandas as pd

from tests.recovery.summary import ratio

VERDICT_BINS = (0.0, 0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
EVERY = "all"
_FAR = 3.0  # standard errors from which the page marks a row


def verdict_table(table: pd.DataFrame) -> pd.DataFrame:
    """One row a world, kind of verdict and bin of its stated probability, after one row over all bins.

    Args:
        table: columns world, seed, kind, stated and right.

    Returns:
        columns world, verdict, stated_bin, seasons, count, mean_stated, share_right, share_right_se and excess (share
        right less mean stated: below zero is overconfident) with its own excess_se.
    """
    out = []
    for (world, kind), part in table.groupby(["world", "kind"], sort=True):
        cut = pd.cut(part["stated"], VERDICT_BINS, include_lowest=True)
        bins = [(f"{max(b.left, 0):.2f} to {b.right:.2f}", rows) for b, rows in part.groupby(cut, observed=True)]
        for name, rows in [(EVERY, part), *bins]:
            share, share_se = ratio(rows["right"], rows["seed"])
            excess, excess_se = ratio(rows["right"].astype(float) - rows["stated"], rows["seed"])
            out.append(
                {
                    "world": world,
                    "verdict": kind,
                    "stated_bin": name,
                    "seasons": rows["seed"].nunique(),
                    "count": len(rows),
                    "mean_stated": rows["stated"].mean(),
                    "share_right": share,
                    "share_right_se": share_se,
                    "excess": excess,
                    "excess_se": excess_se,
                }
            )
    return pd.DataFrame(out).round(4)


def verdict_section(table: pd.DataFrame) -> str:
    """The table as a section of the Markdown page; rows far from what they state are marked."""
    lines = [
        "## Verdicts: right as often as their probability says?",
        "",
        f"Marked rows lie more than {_FAR:.0f} standard errors (the season is the unit) from what they state.",
    ]
    for world, part in table.groupby("world", sort=True):
        lines += ["", f"### The {world} world", ""]
        lines += ["| verdict | stated | count | mean stated | right | off |", "|---" * 6 + "|"]
        for row in part.to_dict("records"):
            far = abs(row["excess"]) > _FAR * row["excess_se"]
            mark = ("over" if row["excess"] < 0 else "under") + "confident" if far else ""
            right = f"{row['share_right']:.3f} ± {row['share_right_se']:.3f}"
            cells = [row["verdict"], row["stated_bin"], row["count"], f"{row['mean_stated']:.3f}", right, mark]
            lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines) + "\n"
