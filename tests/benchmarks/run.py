"""All benchmarks, ratios in one run, written to tests/benchmarks/RESULTS.md.

    python -m tests.benchmarks.run [--only load,carry,mixed,scores,review,kept,club,growth] [--largest 10000000]
        [--scratch FOLDER]

A ratio compares two figures of the same run on the same machine; absolute seconds are this machine's.
"""

from __future__ import annotations

import argparse
import compileall
import os
import platform
import tempfile
from collections.abc import Callable
from pathlib import Path

from pipeline.store.second_process import PROCESSES
from tests.benchmarks.logs import log_of, one_new_block
from tests.benchmarks.measure import Measured, in_own_process

RESULTS = Path(__file__).parent / "RESULTS.md"
_ROOT = Path(__file__).parents[2]
SAMPLE = _ROOT / "sample_logs"
Lines = list[str]


def load(scratch: Path, largest: int) -> Lines:
    """(a) a checked load against a bare one of the same million deliveries."""
    size = min(1_000_000, largest)
    log = log_of(size, scratch)
    ours, bare = [], []
    for run in range(3):
        ours.append(in_own_process("checked_load", log, scratch / f"a{run}.duckdb"))
        bare.append(in_own_process("bare_load", log, scratch / f"b{run}.duckdb"))
    ratios = sorted(one.seconds / two.seconds for one, two in zip(ours, bare, strict=True))
    rows = [_row("checked load", ours[1]), _row("bare CREATE TABLE AS SELECT", bare[1])]
    return _section(f"Load of {size:,} deliveries", rows, f"ratio, median of three pairs: {ratios[1]:.2f} (bound 2.2)")


def carry(scratch: Path, largest: int) -> Lines:
    """(b, first half) the fixed-effects carry fit from counts against raw rows."""
    size = min(1_000_000, largest)
    database = _loaded(size, scratch)
    counts = in_own_process("fit_from_counts", database, runs=3)
    rows = in_own_process("fit_from_rows", database)
    ours, other = counts.answer, rows.answer
    gap = max(abs(one - two) for one, two in zip(ours["coefficients"], other["coefficients"], strict=True))
    said = (
        f"{rows.seconds / counts.seconds:.0f} times faster (bound 50); the work itself adds {ours['added_mb']:.0f} MB "
        f"against {other['added_mb']:.0f} MB, {other['added_mb'] / ours['added_mb']:.0f} times less (bound 10), with "
        f"libraries {rows.peak_mb / counts.peak_mb:.1f} times; largest difference of a "
        f"coefficient {gap:.1e} (bound 1e-8)"
    )
    table = [_row("ours, from counts", counts), _row("statsmodels GLM, raw rows", rows)]
    return _section(f"Fixed-effects carry fit, {size:,} deliveries", table, said)


def mixed(scratch: Path, largest: int) -> Lines:
    """(b, second half) 36,000 first balls with 810 crossed effects by three engines."""
    runs = {"ours": 5, "gpboost": 5, "statsmodels": 1}
    fits = {
        engine: in_own_process("crossed", engine, 1, runs=number, as_command=engine == "ours")
        for engine, number in runs.items()
    }
    ours, other = fits["ours"], fits["gpboost"]
    gap = max(abs(a - b) for key in ("fixed", "sd") for a, b in zip(ours.answer[key], other.answer[key], strict=True))
    fastest = min(fits["gpboost"].seconds, fits["statsmodels"].seconds)
    said = f"{fastest / ours.seconds:.1f} times faster than the faster of the two (bound 5), gpboost within {gap:.1e}"
    return _section("Mixed fit, 36,000 first balls, 810 effects", [_row(*item) for item in fits.items()], said)


def scores(scratch: Path, largest: int) -> Lines:
    """(c) exact score distributions against 100,000 simulated games a combination."""
    combinations = 50
    exact = in_own_process("exact_scores", combinations, runs=3)
    games = in_own_process("simulated_scores", combinations, 100_000)
    said = (
        f"{games.seconds / exact.seconds:.0f} times faster (bound 100); simulation is off the exact mean by "
        f"{abs(games.answer[0] - exact.answer[0]):.3f} pins and off P(200) by "
        f"{abs(games.answer[1] - exact.answer[1]):.4f}"
    )
    table = [_row("exact", exact), _row("100,000 simulated games each", games)]
    return _section(f"Score distributions of {combinations} combinations", table, said)


def review(scratch: Path, largest: int) -> Lines:
    """(d) the whole review of the sample season, cold, and its ten slowest parts."""
    whole = in_own_process("review", SAMPLE, scratch, runs=3)
    alone = in_own_process("review", SAMPLE, scratch, 1, runs=3)
    parts = in_own_process("slowest_parts", SAMPLE, scratch)
    lines = ["## The whole review of the sample season", ""]
    lines += [
        f"Cold, imports included, median of three: {whole.seconds:.1f} s (target 10 on two free cores); the last took "
        f"{whole.answer['cpu_seconds']:.1f} s of processor time; peak of one process {whole.answer['peak_mb']:.0f} MB. "
        f"With one process: {alone.seconds:.1f} s and {alone.answer['cpu_seconds']:.1f} s; ratio of the times "
        f"{whole.seconds / alone.seconds:.2f}.",
        "",
        f"Its ten slowest parts in one process, under a profiler that makes the whole {parts.seconds:.1f} s:",
        "",
        "| part | seconds |",
        "| --- | ---: |",
    ]
    return [*lines, *(f"| {name} | {seconds:.2f} |" for name, seconds in parts.answer), ""]


def club(scratch: Path, largest: int) -> Lines:
    """Reports about more and more bowlers of a club, by the command."""
    size = min(100_000, largest)
    database = _loaded(size, scratch)
    in_own_process("club_report", database, scratch, 1)  # keeps the models, and what compares people
    lines = [f"## A report from {size:,} deliveries, its models kept", ""]
    lines += ["| bowlers | seconds | processor seconds | one process |", "| ---: | ---: | ---: | ---: |"]
    for bowlers in (6, 12, 24):
        two = in_own_process("club_report", database, scratch, bowlers)
        one = in_own_process("club_report", database, scratch, bowlers, environment={PROCESSES: "1"})
        used = two.answer["cpu_seconds"]
        lines.append(f"| {bowlers} | {two.seconds:.1f} | {used:.1f} | {one.seconds:.1f} |")
    return [*lines, "", "Target for 24 bowlers: 20 s on two free cores.", ""]


def growth(scratch: Path, largest: int) -> Lines:
    """(e) load, fits, reports and memory as the log grows."""
    sizes = [size for size in (10_000, 100_000, 1_000_000, 10_000_000) if size <= largest]
    stages = ("load", "fixed fit", "mixed fit", "all fits", "report")
    lines = ["## Growth", "", f"| deliveries | {' | '.join(f'{stage} s' for stage in stages)} | peaks MB |"]
    lines.append(f"| {' | '.join(['---:'] * (len(stages) + 2))} |")
    for size in sizes:
        database = scratch / f"growth_{size}.duckdb"
        steps = [in_own_process("checked_load", log_of(size, scratch), database)]
        steps += [in_own_process(task, database) for task in ("fit_from_counts", "mixed_fit")]
        steps.append(in_own_process("reports", database, scratch / f"reports_{size}"))
        lines.append(_growth_row(size, steps))
    added = in_own_process("checked_load", one_new_block(log_of(sizes[-1], scratch), scratch / "new"), database)
    said = [
        "All fits are those of one report; the report is the deciding and the pages after them. Peaks are of the load, "
        "the fixed fit, the mixed fit, and of fits and report together with the drawing engine beside them.",
        "",
        f"One new block into the {sizes[-1]:,} deliveries: {added.seconds:.1f} s.",
    ]
    return [*lines, "", *said, ""]


def _growth_row(size: int, steps: list[Measured]) -> str:
    *earlier, report = steps
    seconds = [*(step.seconds for step in earlier), report.answer["fit_seconds"], report.seconds]
    peaks = ", ".join(f"{step.peak_mb:.0f}" for step in earlier)
    peaks += f", {report.peak_mb + report.answer['engine_mb']:.0f}"
    return f"| {size:,} | {' | '.join(f'{took:.2f}' for took in seconds)} | {peaks} |"


def kept(scratch: Path, largest: int) -> Lines:
    """Commands with the fits kept, against the same ones fitting anew, on the sample season."""
    rows = in_own_process("kept_fits", SAMPLE, scratch).answer
    table = [f"| {name} | {fresh:.2f} | {kept:.2f} | {kept / fresh:.2f} |" for name, (fresh, kept) in rows.items()]
    head = ["| command | fitting | fits kept | ratio |", "| --- | ---: | ---: | ---: |"]
    said = (
        "Processor seconds of all processes, user and system, imports included; the least of two runs. "
        "Bounds: plan 1 s, the others half of what fitting takes."
    )
    return ["## Fits kept, the sample season", "", *head, *table, "", said, ""]


PARTS: dict[str, Callable[[Path, int], Lines]] = {
    part.__name__: part for part in (load, carry, mixed, scores, review, kept, club, growth)
}


def _loaded(size: int, scratch: Path) -> Path:
    database = scratch / f"season_{size}.duckdb"
    if not database.exists():
        in_own_process("checked_load", log_of(size, scratch), database)
    return database


def _row(name: str, measured: Measured) -> str:
    return f"| {name} | {measured.seconds:.2f} | {measured.peak_mb:.0f} |"


def _section(title: str, rows: list[str], said: str) -> Lines:
    return [f"## {title}", "", "| | seconds | peak MB |", "| --- | ---: | ---: |", *rows, "", f"{said}.", ""]


def _compile() -> None:
    """Leave every module compiled, as an installation does, though this environment may forbid runs to write it."""
    for folder in ("pipeline", "queries", "reports"):
        compileall.compile_dir(_ROOT / folder, quiet=1)


def main() -> None:
    """Run the chosen parts and write the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default=",".join(PARTS))
    parser.add_argument("--largest", type=int, default=10_000_000)
    parser.add_argument("--scratch", type=Path)
    parser.add_argument("--out", type=Path, default=RESULTS)
    options = parser.parse_args()
    machine = f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
    busy = ", ".join(f"{number:.1f}" for number in os.getloadavg())
    _compile()
    said = f"Measured by `make bench` on {machine}; load averages at its start {busy}."
    lines = ["# Benchmarks", "", said, ""]
    with tempfile.TemporaryDirectory() as made:
        for name in options.only.split(","):
            print(name, flush=True)
            lines += PARTS[name](options.scratch or Path(made), options.largest)
            options.out.write_text("\n".join(lines), encoding="utf-8")
    print(f"wrote {options.out}")


if __name__ == "__main__":
    main()
