"""The command ``rackledger``: parse, call a stage, print. Nothing is decided here."""

from __future__ import annotations

import atexit
import errno
import gc
import io
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.errors import TRACEBACK, RackledgerError, is_stop, printable
from pipeline.files import refuse_inputs
from pipeline.settings import read_settings
from pipeline.sport import oil

if TYPE_CHECKING:
    from pipeline.decisions.records import Decisions
    from pipeline.intake.report import LoadReport
    from pipeline.models.fits import Fits
    from pipeline.settings import Settings
    from pipeline.store.season import Season

Progress = Callable[[str, float], None]

DONE_WITH_FAULTS = 3
"""Exit code of a run that finished but set rows aside or refused a file, so that a script can tell."""

STOPPED = 130
"""Exit code of a run stopped by Ctrl-C, as shells give it."""

_SELDOM = (50_000, 20, 20)
_LENGTH = options.Number(*oil.LENGTH_FT, "ft")
_VOLUME = options.Number(*oil.VOLUME_ML, "ml")
_RATIO = options.Number(*oil.RATIO, ":1")


@contextmanager
def _progress_bar() -> Iterator[Progress]:
    """A progress bar on a terminal, silence elsewhere; it never mixes with what the command prints."""
    from rich.console import Console
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    hidden = options.is_quiet() or not console.is_terminal
    with Bar(*columns, console=console, transient=True, disable=hidden) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda text, fraction: bar.update(task, description=text, completed=min(max(fraction, 0.0), 1.0))


def _say(text: str = "") -> None:
    """Print for the person; nothing under --quiet. A reader that went away, as head does, ends only the printing."""
    if options.is_quiet():
        return
    _answer(text)


def _answer(text: str) -> None:
    """Print what was asked for, --quiet or not."""
    try:
        click.echo(text)
    except BrokenPipeError:
        _drop_output()


def _drop_output() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _part(progress: Progress, start: float, end: float) -> Progress:
    """The stretch from ``start`` to ``end`` of a longer piece of work."""
    return lambda text, fraction: progress(text, start + (end - start) * fraction)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="rackledger")
def cli() -> None:
    """Turn a season of tenpin shot logs into decisions: which ball, which line, which student, what next."""


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path))
@options.quiet
def template(folder: Path) -> None:
    """Write blank CSVs with one worked example, what they may hold, a log sheet to print and a log page for a phone."""
    from pipeline.intake.files.templates import write_guide, write_log_page, write_log_sheet, write_template

    written = [*write_template(folder), write_guide(folder), write_log_sheet(folder), write_log_page(folder)]
    _say("\n".join(f"wrote {path}" for path in written))


@cli.command()
@click.argument("logdir", type=click.Path(path_type=Path))
@options.database
@options.columns
@options.settings
@options.quiet
def load(logdir: Path, database: Path, column_map: Path | None, settings_file: Path | None) -> None:
    """Check the CSVs in LOGDIR and load the good rows; bad rows go to quarantine with a reason."""
    with _progress_bar() as progress:
        report = _load(logdir, database, read_settings(settings_file), column_map, progress)
    _tell_load(report)
    sys.exit(DONE_WITH_FAULTS if report.incomplete else 0)


@cli.command()
@click.argument("logdir", type=click.Path(path_type=Path))
@options.columns
@options.quiet
def check(logdir: Path, column_map: Path | None) -> None:
    """Say what a load of LOGDIR would keep, what not, and how to mend it; nothing is stored."""
    from pipeline.intake.check import check_folder

    found = check_folder(logdir, column_map)
    for line in found.lines():
        _say(printable(line))
    sys.exit(DONE_WITH_FAULTS if found.report.incomplete else 0)


@cli.command()
@click.argument("files", nargs=-1)
@click.option("--missing", is_flag=True, help="Also every file that is no longer where it was loaded from.")
@options.database
@options.quiet
def forget(files: tuple[str, ...], missing: bool, database: Path) -> None:
    """Drop what is stored from FILES: names as `load` prints them, paths, or folders of logs."""
    from pipeline.intake.forget import forget as drop

    if not files and not missing:
        raise click.UsageError("name a file or folder of logs, or give --missing")
    dropped = drop(database, files, missing)
    for name, rows in dropped:
        _say(printable(f"{name}: {rows:,} rows dropped."))
    if not dropped:
        _say("Nothing to drop: every stored file is where it was loaded from.")


@cli.command()
@options.database
@options.out
@options.title
@options.about
@options.alias
@options.alias_key
@options.settings
@options.quiet
def report(
    database: Path,
    out: Path,
    title: str,
    about: tuple[str, ...],
    alias: bool,
    alias_key: Path | None,
    settings_file: Path | None,
) -> None:
    """Fit the models to the loaded season and write the HTML reports."""
    names = options.Names(alias, alias_key)
    _check_places(names, out, database, (database, settings_file))
    with _progress_bar() as progress:
        _ready_to_draw()
        decisions = _decide(database, read_settings(settings_file), title, about, names, _part(progress, 0.0, 0.7))
        index = _render(decisions, out, _part(progress, 0.7, 1.0))
    _tell_report(decisions, index)


@cli.command()
@click.argument("logdir", type=click.Path(path_type=Path))
@options.database
@options.out
@options.title
@options.about
@options.alias
@options.alias_key
@options.columns
@options.settings
@options.quiet
def review(
    logdir: Path,
    database: Path,
    out: Path,
    title: str,
    about: tuple[str, ...],
    alias: bool,
    alias_key: Path | None,
    column_map: Path | None,
    settings_file: Path | None,
) -> None:
    """The main job: load LOGDIR, fit, decide and write the HTML reports."""
    settings = read_settings(settings_file)
    names = options.Names(alias, alias_key)
    _check_places(names, out, database, (database, settings_file, column_map, logdir))
    with _progress_bar() as progress:
        loaded = _load(logdir, database, settings, column_map, progress)
    _tell_load(loaded)  # before a season of which nothing is left is refused
    with _progress_bar() as progress:
        _ready_to_draw()
        decisions = _decide(database, settings, title, about, names, _part(progress, 0.0, 0.75))
        index = _render(decisions, out, _part(progress, 0.75, 1.0))
    _tell_report(decisions, index)
    sys.exit(DONE_WITH_FAULTS if loaded.incomplete else 0)


@cli.command()
@options.database
@click.option(
    "--json",
    "json_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write every decision as one JSON file.",
)
@click.option(
    "--csv",
    "csv_folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write one CSV per kind of decision.",
)
@click.option(
    "--ledger",
    "ledger_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write where the pins of every delivery went, as CSV, or as JSON if the name ends in .json.",
)
@options.title
@options.about
@options.alias
@options.alias_key
@options.settings
@options.quiet
def decide(
    database: Path,
    json_file: Path | None,
    csv_folder: Path | None,
    ledger_file: Path | None,
    title: str,
    about: tuple[str, ...],
    alias: bool,
    alias_key: Path | None,
    settings_file: Path | None,
) -> None:
    """Write the decisions as data for other programs: any of --json FILE, --csv FOLDER and --ledger FILE."""
    from pipeline.decisions.export.places import check_csv, check_json, check_ledger
    from pipeline.decisions.export.writers import to_csv, to_json

    if json_file is None and csv_folder is None and ledger_file is None:
        raise click.UsageError("say where to write: --json FILE, --csv FOLDER or --ledger FILE")
    names = options.Names(alias, alias_key)
    inputs = (database, settings_file)
    _check_key(names, (*inputs, json_file, csv_folder, ledger_file))
    if json_file is not None:
        refuse_inputs(json_file, inputs)
        check_json(json_file)
    if csv_folder is not None:
        refuse_inputs(csv_folder, inputs)
        check_csv(csv_folder)
    if ledger_file is not None:
        refuse_inputs(ledger_file, (*inputs, json_file))
        check_ledger(ledger_file)
    with _progress_bar() as progress:
        decisions = _decide(database, read_settings(settings_file), title, about, names, progress, ledger_file)
    if ledger_file is not None:
        _say(f"wrote {ledger_file}")
    if json_file is not None:
        to_json(decisions, json_file)
        _say(f"wrote {json_file}")
    if csv_folder is not None:
        to_csv(decisions, csv_folder)
        _say(f"wrote CSV files in {csv_folder}")


@cli.command()
@click.option("--bowler", required=True, help="Bowler, by id or name as in bowlers.csv.")
@click.option("--length", "length_ft", type=_LENGTH, required=True, help="Pattern length in feet.")
@click.option("--volume", "volume_ml", type=_VOLUME, default=None, help="Oil volume in mL.")
@click.option("--ratio", type=_RATIO, default=None, help="Inside-to-outside ratio, 3.5 or 3.5:1.")
@click.option("--games", type=click.IntRange(1, 24), default=6, show_default=True, help="Games in the block.")
@options.database
@options.settings
@options.quiet
def plan(
    bowler: str,
    length_ft: float,
    volume_ml: float | None,
    ratio: float | None,
    games: int,
    database: Path,
    settings_file: Path | None,
) -> None:
    """Plan a block on a posted pattern: starting ball and line, when to move, what to expect."""
    from pipeline.decisions.plan.block_plan import plan as make_plan
    from pipeline.decisions.plan.block_plan import plan_text

    settings = read_settings(settings_file)
    with (
        _progress_bar() as progress,
        _fitted(database, settings, progress, (bowler,), "--bowler") as (season, fits, (known,)),
    ):
        answer = make_plan(season, fits, known, length_ft, volume_ml, ratio, games)
    _answer(plan_text(answer))


def _load(logdir: Path, database: Path, settings: Settings, columns: Path | None, progress: Progress) -> LoadReport:
    from pipeline.intake import load_folder

    return load_folder(logdir, database, settings, columns, progress)


@contextmanager
def _fitted(
    database: Path, settings: Settings, progress: Progress, asked: tuple[str, ...], option: str = "--about"
) -> Iterator[tuple[Season, Fits, tuple[str, ...]]]:
    """The season, the fits, and the ids of those ``asked`` for; somebody unknown is refused before the fits.

    With ``--about`` the season is shown for these alone; else the fits of a large one just keep no effects but theirs.
    """
    from pipeline.decisions.scope import about, whom
    from pipeline.models.fits import fit_all
    from pipeline.store.season import open_season

    with open_season(database, settings) as season:
        people = whom(season, asked, option)
        fits = fit_all(season, settings, progress, people.bowlers)
        yield season, about(season, fits, people) if option == "--about" else fits, people.bowlers or ()


def _decide(
    database: Path,
    settings: Settings,
    title: str,
    about: tuple[str, ...],
    names: options.Names,
    progress: Progress,
    ledger_file: Path | None = None,
) -> Decisions:
    from pipeline.decisions.alias import alias as hide_names
    from pipeline.decisions.decide import decide as decide_all
    from pipeline.decisions.export.writers import write_key
    from pipeline.store.database import alias_salt

    with _fitted(database, settings, _part(progress, 0.0, 0.5), about) as (season, fits, _):
        decisions = decide_all(season, fits, title, _part(progress, 0.5, 1.0))
        key = None
        if names.hidden:
            decisions, key = hide_names(decisions, alias_salt(season.connection))
        if ledger_file is not None:
            from pipeline.decisions.export.ledger_file import write_ledger
            from pipeline.pricing.ledger import open_ledger

            write_ledger(open_ledger(season, fits), ledger_file, key)
    if key is not None and names.key_file is not None:
        write_key(key, names.key_file)
    return decisions


def _check_places(names: options.Names, out: Path, database: Path, inputs: tuple[Path | None, ...]) -> None:
    """Refuse places for reports and key that would not take them, or where something read would be lost."""
    from reports.errors import ReportError
    from reports.publish import check_place

    _check_key(names, (*inputs, out))
    refuse_inputs(out, inputs)
    check_place(out)
    if out.resolve() in database.resolve().parents:
        raise ReportError(f"{out}: the database {database} is in it; give a folder for the reports alone with --out.")


def _check_key(names: options.Names, others: tuple[Path | None, ...]) -> None:
    if names.key_file is not None:
        from pipeline.decisions.export.places import check_key

        refuse_inputs(names.key_file, others)
        check_key(names.key_file)


def _ready_to_draw() -> None:
    from reports.charts.figures import worker

    worker.start()


def _render(decisions: Decisions, out: Path, progress: Progress) -> Path:
    from reports.publish import render_all

    return render_all(decisions, out, progress)


def _tell_load(report: LoadReport) -> None:
    for line in report.lines():
        _say(printable(line))


def _tell_report(decisions: Decisions, index: Path) -> None:
    summary = decisions.summary
    counts = ((summary.deliveries, "delivery"), (len(summary.bowlers), "bowler"), (summary.blocks, "block"))
    deliveries, bowlers, blocks = (_counted(number, thing) for number, thing in counts)
    _say(f"{deliveries} by {bowlers} in {blocks}.")
    _say(f"Report: {index}")


def _counted(number: int, thing: str) -> str:
    several = f"{thing[:-1]}ies" if thing.endswith("y") else f"{thing}s"
    return f"{number:,} {thing if number == 1 else several}"


def main() -> None:
    """Run the command; every known failure is one sentence on standard error and a non-zero exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal may not know every sign of a name
    gc.set_threshold(*_SELDOM)  # what a run makes lives to its end, so looking for garbage often finds none
    atexit.register(gc.freeze)  # nor does looking at the end, which takes half a second
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # matrices are small: more threads only wait for each other
    try:
        cli.main(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except BrokenPipeError:
        _drop_output()
    except (Exception, KeyboardInterrupt) as error:
        if os.environ.get(TRACEBACK):
            raise
        sentence, code = _told(error)
        if code == STOPPED:
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # a second Ctrl-C finds nothing left to stop
        click.echo(f"rackledger: {printable(sentence)}", err=True)
        sys.exit(code)


def _told(error: BaseException) -> tuple[str, int]:
    """The sentence and exit code of a failure."""
    if isinstance(error, RackledgerError):
        return str(error), 1
    if isinstance(error, click.Abort) or is_stop(error):
        return "stopped; nothing was changed by the part that had not finished", STOPPED
    if isinstance(error, MemoryError):
        return "not enough memory; close other programs and run again", 1
    if isinstance(error, OSError):
        place = error.filename or "a file"
        if error.errno == errno.ENAMETOOLONG:
            return f"{place}: the name is too long; choose a shorter one", 1
        return f"{place}: {error.strerror or error}; free the disk or choose another folder", 1
    return (
        f"something unforeseen went wrong ({type(error).__name__}: {error}); the earlier database and reports are "
        f"as they were. Please report it, with what {TRACEBACK}=1 shows when you run the same again.",
        1,
    )
