"""The timed work, one function a task; ``python -m tests.benchmarks.tasks NAME ARGUMENTS`` prints one JSON line.

Data are prepared before the clock starts; every task runs in a process of its own, so peaks do not add up.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import duckdb
import numpy as np

from pipeline.settings import Settings
from pipeline.store.second_process import PROCESSES
from tests.benchmarks.measure import peak_mb, peak_mb_of, timed

_COLUMNS = "ball_class, pattern_class, entry_half, CAST(game AS DOUBLE) AS game"
_LOGGED = "FROM first_balls WHERE entry_half BETWEEN 8 AND 28 AND ball_class IS NOT NULL"


def _quiet(text: str, fraction: float) -> None:
    """No progress in a benchmark."""


def checked_load(log: str, database: str) -> tuple[float, Any]:
    """Our load, every row checked."""
    from pipeline.intake import load_folder

    seconds, report = timed(lambda: load_folder(Path(log), Path(database)))
    return seconds, {"quarantined": report.rows_quarantined}


def bare_load(log: str, database: str) -> tuple[float, Any]:
    """DuckDB alone: one CREATE TABLE AS SELECT from the same shot files, nothing checked."""

    def work() -> int:
        with duckdb.connect(database) as connection:
            connection.execute(f"CREATE TABLE shots AS SELECT * FROM read_csv('{log}/shots*.csv')")
            return connection.execute("SELECT count(*) FROM shots").fetchall()[0][0]

    return timed(work)


def fit_from_counts(database: str) -> tuple[float, Any]:
    """The fixed-effects carry fit from counts by our own engine; the clock runs from the query on the open season."""
    import patsy

    from pipeline.inference.mixed_logit.fit import fit_mixed_logit
    from pipeline.store.season import Season, open_season

    def work(season: Season) -> list[float]:
        cells = season.connection.execute(
            f"SELECT {_COLUMNS}, count(*) AS shots, count(*) FILTER (WHERE strike) AS strikes {_LOGGED} GROUP BY ALL"
        ).df()
        design = np.asarray(patsy.dmatrix(_right_side(), cells))
        fit = fit_mixed_logit(
            design, [], cells["strikes"].to_numpy(float), cells["shots"].to_numpy(float), sd_prior=None
        )
        return list(fit.fixed)

    with open_season(Path(database), Settings()) as season:
        return _with_own_memory(lambda: work(season))


def fit_from_rows(database: str) -> tuple[float, Any]:
    """The same formula on raw rows by statsmodels; the clock runs from the query on the open season."""
    import statsmodels.api as sm
    import statsmodels.formula.api as smf

    from pipeline.store.season import Season, open_season

    def work(season: Season) -> list[float]:
        rows = season.connection.execute(f"SELECT {_COLUMNS}, CAST(strike AS DOUBLE) AS strike {_LOGGED}").df()
        formula = f"strike ~ {_right_side()}"
        return list(smf.glm(formula, rows, family=sm.families.Binomial()).fit(tol=1e-12, maxiter=100).params)

    with open_season(Path(database), Settings()) as season:
        return _with_own_memory(lambda: work(season))


def _with_own_memory(work: Callable[[], list[float]]) -> tuple[float, Any]:
    """Seconds, and the answer with what the work added to the peak: the libraries loaded are not its own."""
    before = peak_mb()
    seconds, answer = timed(work)
    return seconds, {"coefficients": answer, "added_mb": peak_mb() - before}


def _right_side() -> str:
    """The right side, the spline's knots fixed: knots from quantiles would differ between counts and rows."""
    knots = "knots=[14, 17.5, 21], lower_bound=8, upper_bound=28"
    return f"C(ball_class) * C(pattern_class) + bs(entry_half, {knots}) + game"


def mixed_fit(database: str) -> tuple[float, Any]:
    """The worth model with all its random effects, query included."""
    from pipeline.models.strikes.strike_worth import fit_worth
    from pipeline.store.season import open_season

    def work() -> int:
        with open_season(Path(database), Settings()) as season:
            return fit_worth(season).shots

    return timed(work)


def crossed(engine: str, seed: str) -> tuple[float, Any]:
    """36,000 first balls with 30 + 600 + 180 crossed groups by one engine; fixed effects and sds."""
    from tests.benchmarks.crossed import ENGINES, data, load_libraries

    load_libraries(engine)
    rows = data(int(seed))
    return timed(lambda: ENGINES[engine](rows))


def exact_scores(combinations: str) -> tuple[float, Any]:
    """Exact score distributions of so many combinations."""
    from pipeline.sport.score_distribution import score_distribution

    first, second = _frames(int(combinations))
    seconds, scores = timed(lambda: score_distribution(first, second))
    return seconds, [float(scores[0] @ np.arange(301)), float(scores[0, 200:].sum())]


def simulated_scores(combinations: str, games: str) -> tuple[float, Any]:
    """The same distributions from simulated games, vectorised over games."""
    from tests.benchmarks.simulated_games import simulate_scores

    first, second = _frames(int(combinations))
    rng = np.random.default_rng(1)
    seconds, scores = timed(
        lambda: [simulate_scores(one, two, int(games), rng) for one, two in zip(first, second, strict=True)]
    )
    return seconds, [float(scores[0].mean()), float((scores[0] >= 200).mean())]


def _frames(combinations: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    first = rng.dirichlet(np.array([1, 1, 1, 2, 2, 3, 5, 10, 25, 40, 90.0]), combinations)
    second = np.zeros((combinations, 11, 11))
    for down in range(11):
        second[:, down, : 11 - down] = rng.dirichlet(np.r_[np.ones(10 - down), 6.0], combinations)
    return first, second


def review(log: str, scratch: str, processes: str = "2") -> tuple[float, Any]:
    """The main command on ``log`` in a fresh process, imports included, with neither database nor reports before it."""
    os.environ[PROCESSES] = processes
    with TemporaryDirectory(dir=scratch) as folder:
        places = ["--db", f"{folder}/season.duckdb", "--out", f"{folder}/reports"]
        command = [sys.executable, "-m", "pipeline", "review", log, *places]
        started = time.perf_counter()
        ended = subprocess.run(command, capture_output=True, text=True, check=False)
        seconds = time.perf_counter() - started
    if ended.returncode not in (0, 3):
        raise RuntimeError(ended.stderr)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return seconds, {"cpu_seconds": used.ru_utime + used.ru_stime, "peak_mb": used.ru_maxrss / 1024}


def kept_fits(log: str, scratch: str) -> tuple[float, Any]:
    """Processor seconds of commands that fit and of those that take the fits kept, least of two runs each."""
    with TemporaryDirectory(dir=scratch) as folder:
        database = Path(folder) / "season.duckdb"
        load_sample = [sys.executable, "-m", "pipeline", "load", log, "--db", str(database)]
        subprocess.run(load_sample, capture_output=True, check=False)
        commands = {
            "plan": ["plan", "--bowler", "maren", "--length", "41"],
            "decide": ["decide", "--json", f"{folder}/d.json"],
            "decide --ledger": ["decide", "--ledger", f"{folder}/l.csv"],
            "report": ["report", "--out", f"{folder}/reports"],
        }
        by_name = {}
        for name, words in commands.items():
            command = [sys.executable, "-m", "pipeline", *words, "--db", str(database)]
            fitted = min(_processor_seconds([*command, "--refit"]) for _ in range(2))
            by_name[name] = [fitted, min(_processor_seconds(command) for _ in range(2))]
    return sum(kept for _, kept in by_name.values()), by_name


def club_report(database: str, scratch: str, bowlers: str) -> tuple[float, Any]:
    """Reports about so many bowlers by the command, with the models and what compares people kept."""
    with duckdb.connect(database, read_only=True) as connection:
        most = connection.execute(
            "SELECT bowler FROM deliveries WHERE first_ball GROUP BY ALL ORDER BY count(*) DESC, bowler LIMIT $n",
            {"n": int(bowlers)},
        ).fetchall()
    words = [word for (bowler,) in most for word in ("--about", bowler)]
    with TemporaryDirectory(dir=scratch) as folder:
        command = [sys.executable, "-m", "pipeline", "report", "--db", database, "--out", f"{folder}/reports", *words]
        seconds, used = timed(lambda: _processor_seconds(command))
    return seconds, {"cpu_seconds": used}


def _processor_seconds(command: list[str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def slowest_parts(log: str, scratch: str) -> tuple[float, Any]:
    """The same under cProfile: its ten slowest parts."""
    from tests.benchmarks.parts import profiled_review, slowest

    with TemporaryDirectory(dir=scratch) as folder, redirect_stdout(StringIO()):
        seconds, stats = timed(lambda: profiled_review(Path(log), Path(folder) / "s.duckdb", Path(folder) / "reports"))
    return seconds, slowest(stats)


def reports(database: str, out: str) -> tuple[float, Any]:
    """Decide and render as the command does unasked, once the models are fitted; the fits are timed apart."""
    from pipeline.decisions.decide import decide
    from pipeline.decisions.scope import resolve_bowlers, restricted
    from pipeline.models.fits import fit_all
    from pipeline.models.fitted import Fitted
    from pipeline.store.season import open_season
    from reports.charts import worker
    from reports.publish import render_all

    worker.start()
    with open_season(Path(database), Settings()) as season:
        people = resolve_bowlers(season, ())
        fit_seconds, fits = timed(lambda: fit_all(season, Settings(), _quiet, people.bowlers))

        def work() -> int:
            decisions = decide(restricted(Fitted(season, fits), people), "Benchmark", _quiet)
            render_all(decisions, Path(out), _quiet)
            return sum(path.stat().st_size for path in Path(out).iterdir())

        seconds, written = timed(work)
    process = worker._process()
    drawing = 0.0 if process is None else peak_mb_of(process.pid)
    worker.stop()
    return seconds, {"fit_seconds": fit_seconds, "engine_mb": drawing, "written": written}


TASKS: dict[str, Callable[..., tuple[float, Any]]] = {
    task.__name__: task
    for task in (
        checked_load, bare_load, fit_from_counts, fit_from_rows, mixed_fit, crossed,
        exact_scores, simulated_scores, review, club_report, kept_fits, slowest_parts, reports,
    )
}  # fmt: skip


if __name__ == "__main__":
    elapsed, result = TASKS[sys.argv[1]](*sys.argv[2:])
    print(json.dumps({"seconds": elapsed, "peak_mb": peak_mb(), "answer": result}, default=float))
