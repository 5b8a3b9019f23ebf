"""From quantities of many seasons to tables of bias, coverage and calibration.

Quantities of one season share its draws, so standard errors take the season as the unit: for a ratio sum(y) / sum(n)
over S seasons, se^2 = S / (S - 1) * sum((y - ratio * n)^2) / sum(n)^2 (Cochran, Sampling Techniques,
ratio estimator, from memory).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 1.0)


def ratio(values: pd.Series, season: pd.Series) -> tuple[float, float]:
    """Mean of ``values`` and its standard error with the season as the unit."""
    kept = values.notna()
    if not kept.any():
        return np.nan, np.nan
    by = values[kept].astype(float).groupby(season[kept]).agg(["sum", "size"])
    total, count = by["sum"].to_numpy(), by["size"].to_numpy()
    mean = total.sum() / count.sum()
    seasons = len(by)
    if seasons < 2:
        return float(mean), np.nan
    spread = np.sqrt(seasons / (seasons - 1) * ((total - mean * count) ** 2).sum()) / count.sum()
    return float(mean), float(spread)


def recovery_table(table: pd.DataFrame) -> pd.DataFrame:
    """One row a world and kind of quantity: bias, root mean square error and coverage, raw averages beside adjusted."""
    out = []
    for (world, kind), part in table.groupby(["world", "kind"], sort=True):
        error, raw = part["mean"] - part["truth"], part["raw"] - part["truth"]
        seed = part["seed"]
        inside = {k: (part["truth"] >= part[f"lo{k}"]) & (part["truth"] <= part[f"hi{k}"]) for k in (80, 95)}
        row: dict[str, object] = {
            "world": world,
            "quantity": kind,
            "seasons": seed.nunique(),
            "first_seed": seed.min(),
            "last_seed": seed.max(),
            "values": len(part),
            "mean_truth": part["truth"].mean(),
        }
        row["bias"], row["bias_se"] = ratio(error, seed)
        row["rmse"] = float(np.sqrt((error**2).mean()))
        for level, hits in inside.items():
            row[f"coverage_{level}"], row[f"coverage_{level}_se"] = ratio(hits, seed)
            row[f"width_{level}"] = float((part[f"hi{level}"] - part[f"lo{level}"]).mean())
        row["raw_bias"], row["raw_bias_se"] = ratio(raw, seed)
        row["raw_rmse"] = float(np.sqrt((raw**2).mean()))
        out.append(row)
    return pd.DataFrame(out).round(4)


def ranking_table(ranked: pd.DataFrame) -> pd.DataFrame:
    """Is the choice ranked first truly best as often as P(best) says, overall and by bin; and by raw averages."""
    out = []
    for world, part in ranked.groupby("world", sort=True):
        top = part[part["top"].astype(bool)]
        groups = [("ranked first", top), ("ranked first by raw average", part[part["top_raw"].astype(bool)])]
        cut = pd.cut(part["stated"], BINS, include_lowest=True)
        groups += [
            (f"stated {max(b.left, 0):.1f} to {b.right:.1f}", rows) for b, rows in part.groupby(cut, observed=True)
        ]
        cut = pd.cut(top["stated"], BINS, include_lowest=True)
        groups += [
            (f"ranked first, stated {max(b.left, 0):.1f} to {b.right:.1f}", rows)
            for b, rows in top.groupby(cut, observed=True)
        ]
        for name, rows in groups:
            best, se = ratio(rows["best"], rows["seed"])
            lost, lost_se = ratio(rows["lost"], rows["seed"])
            out.append(
                {
                    "world": world,
                    "choices": name,
                    "count": len(rows),
                    "stated_best": np.nan if "raw" in name else rows["stated"].mean(),
                    "truly_best": best,
                    "truly_best_se": se,
                    "pins_short_of_best": lost,
                    "pins_short_se": lost_se,
                }
            )
    return pd.DataFrame(out).round(4)


def results_page(recovery: pd.DataFrame, ranking: pd.DataFrame) -> str:
    """Both tables in short, as a Markdown page."""
    lines = [
        "# Results of the recovery study",
        "",
        "Written by `tests.recovery.study`; the full tables are the CSVs beside.",
    ]
    for world, part in recovery.groupby("world", sort=True):
        first = part.iloc[0]
        span = f"seeds {first['first_seed']} to {first['last_seed']}"
        lines += ["", f"## The {world} world: {part['seasons'].max()} seasons, {span}", ""]
        lines += ["| quantity | values | bias | rmse | 80 % held | 95 % held | raw bias | raw rmse |", "|---" * 8 + "|"]
        for row in part.to_dict("records"):
            held = [f"{row[f'coverage_{k}']:.3f} ± {row[f'coverage_{k}_se']:.3f}" for k in (80, 95)]
            raw = ["" if pd.isna(row[k]) else f"{row[k]:.3f}" for k in ("raw_bias", "raw_rmse")]
            cells = [row["quantity"], row["values"], f"{row['bias']:.3f}", f"{row['rmse']:.3f}", *held, *raw]
            lines.append("| " + " | ".join(map(str, cells)) + " |")
        lines += ["", "| choices | count | stated P(best) | truly best | pins short of best |", "|---" * 5 + "|"]
        for row in ranking[ranking["world"] == world].to_dict("records"):
            stated = "" if pd.isna(row["stated_best"]) else f"{row['stated_best']:.3f}"
            best = f"{row['truly_best']:.3f} ± {row['truly_best_se']:.3f}"
            lines.append(f"| {row['choices']} | {row['count']} | {stated} | {best} | {row['pins_short_of_best']:.2f} |")
    return "\n".join(lines) + "\n"
