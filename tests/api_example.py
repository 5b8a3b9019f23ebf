"""A season from Python: load the sample, fit, print the three best-supported choices, write the reports.

python -m tests.api_example out
"""

from __future__ import annotations

import sys
from pathlib import Path

from pipeline import api

LOGS = Path(__file__).parents[1] / "sample_logs"


def main(out: Path) -> None:
    database = out / "season.duckdb"
    loaded = api.load(LOGS, database)
    print("rows set aside or files refused" if loaded.incomplete else "every row was kept")

    with api.fit(database, about=["oda", "joss"]) as fitted:
        decisions = api.decide(fitted, title="Two bowlers")

    ranked = [(choice.p_best, choice) for choice in decisions.combos if choice.ranked and choice.p_best is not None]
    for probability, choice in sorted(ranked, key=lambda pair: -pair[0])[:3]:
        where = f"{choice.bowler}, {choice.pattern_class} pattern, {choice.phase}: {choice.ball}, {choice.line}"
        worth = f"{choice.worth.mean:+.1f} pins per game (95% {choice.worth.lo95:+.1f} to {choice.worth.hi95:+.1f})"
        print(f"{where}: {worth}, {choice.shots} shots, best with probability {probability:.2f}")

    print(api.report(decisions, out / "reports"))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
