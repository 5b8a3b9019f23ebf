"""The command ``rackledger``: parse, call a stage, print. Nothing is decided here."""

from __future__ import annotations

import atexit
import gc
import io
import os
import signal
import sys
from contextlib import ExitStack
from pathlib import Path

import click

from pipeline import api, console, options
from pipeline.errors import TRACEBACK, printable
from pipeline.imports import TO_FIT, imported_beside
from pipeline.request import Exports, Hiding, Request
from pipeline.settings import read_settings
from pipeline.sport import oil

_SELDOM = (50_000, 20, 20)
_LENGTH = options.Number(*oil.LENGTH_FT, "ft")
_VOLUME = options.Number(*oil.VOLUME_ML, "ml")
_RATIO = options.Number(*oil.RATIO, ":1")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="rackledger")
def cli() -> None:
    """Turn a season of tenpin shot logs into decisions: which ball, which line, which student, what next."""


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path))
@options.quiet
def template(folder: Path) -> None:
    """Write blank CSVs with worked examples, a guide to the columns, a log sheet to print and a page for phones."""
    from pipeline.intake.files.templates import write_guide, write_log_page, write_log_sheet, write_template

    written = [*write_template(folder), write_guide(folder), write_log_sheet(folder), write_log_page(folder)]
    console.say("\n".join(f"wrote {path}" for path in written))


@cli.command()
@click.argument("logdir", type=click.Path(path_type=Path))
@options.database
@options.columns
@options.settings
@options.quiet
def load(logdir: Path, database: Path, column_map: Path | None, settings_file: Path | None) -> None:
    """Check the CSVs in LOGDIR, load the good rows and quarantine the others with a reason."""
    read_settings(settings_file)  # loading needs none, but a mistake in them is better known now
    with console.progress_bar() as progress:
        report = api.load(logdir, database, columns=column_map, progress=progress)
    console.print_load(report)
    sys.exit(console.DONE_WITH_FAULTS if report.incomplete else 0)


@cli.command()
@click.argument("logdir", type=click.Path(path_type=Path))
@options.columns
@options.quiet
def check(logdir: Path, column_map: Path | None) -> None:
    """Show which rows of LOGDIR a load would keep, which not, and how to mend them; store nothing."""
    from pipeline.intake.check import check_folder

    checked = check_folder(logdir, column_map)
    for line in checked.lines():
        console.say(printable(line))
    sys.exit(console.DONE_WITH_FAULTS if checked.report.incomplete else 0)


@cli.command()
@click.argument("files", nargs=-1)
@click.option("--missing", is_flag=True, help="Also drop every file that is no longer where it was loaded from.")
@options.database
@options.quiet
def forget(files: tuple[str, ...], missing: bool, database: Path) -> None:
    """Drop what is stored from FILES: names as `load` prints them, paths, or folders of logs."""
    from pipeline.intake.forget import forget as drop

    if not files and not missing:
        raise click.UsageError("name a file or folder of logs, or give --missing")
    dropped = drop(database, files, missing)
    for name, rows in dropped:
        console.say(printable(f"{name}: {rows:,} rows dropped."))
    if not dropped:
        console.say("Nothing to drop: every stored file is where it was loaded from.")


@cli.command()
@options.database
@options.out
@options.title
@options.about
@options.period
@options.alias
@options.alias_key
@options.settings
@options.refit
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
    request = Request(database, read_settings(settings_file), title, about, Hiding(alias, alias_key))
    request.start_drawing()
    request.check_reports(out, (database, settings_file))
    with console.progress_bar() as progress:
        decisions, index = request.report(out, progress, 0.7)
    console.print_report(decisions, index)


@cli.command()
@click.argument("logdir", type=click.Path(path_type=Path))
@options.database
@options.out
@options.title
@options.about
@options.period
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
    request = Request(database, read_settings(settings_file), title, about, Hiding(alias, alias_key))
    request.start_drawing()
    request.check_reports(out, (database, settings_file, column_map, logdir))
    with console.progress_bar() as progress, imported_beside(TO_FIT):
        loaded = api.load(logdir, database, columns=column_map, progress=progress)
    console.print_load(loaded)  # before a season of which nothing is left is refused
    with console.progress_bar() as progress:
        decisions, index = request.report(out, progress, 0.75)
    console.print_report(decisions, index)
    sys.exit(console.DONE_WITH_FAULTS if loaded.incomplete else 0)


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
@options.period
@options.alias
@options.alias_key
@options.settings
@options.refit
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
    """Write the decisions as data for other programs: --json FILE, --csv FOLDER, --ledger FILE, or several of them."""
    exports = Exports(json_file, csv_folder, ledger_file)
    request = Request(database, read_settings(settings_file), title, about, Hiding(alias, alias_key))
    inputs = (database, settings_file)
    request.hiding.check((*inputs, json_file, csv_folder, ledger_file))
    exports.check(inputs)
    if ledger_file is not None and exports.ledger_alone and not alias:
        with console.progress_bar() as progress:
            request.write_ledger(ledger_file, progress)
        return
    with ExitStack() as at_end:
        with console.progress_bar() as progress:
            decisions = request.decide(at_end, progress, ledger_file)
        exports.write(decisions)


@cli.command()
@click.option("--bowler", required=True, help="Bowler, by id or name as in bowlers.csv.")
@click.option("--pattern", "patterns", multiple=True, help="Pattern by id or name as loaded; repeat, one per round.")
@click.option("--length", "length_ft", type=_LENGTH, default=None, help="Pattern length in feet, instead of a name.")
@click.option("--volume", "volume_ml", type=_VOLUME, default=None, help="Oil volume in mL.")
@click.option("--ratio", type=_RATIO, default=None, help="Inside-to-outside ratio, 3.5 or 3.5:1.")
@click.option("--games", type=click.IntRange(1, 24), default=6, show_default=True, help="Games per round.")
@click.option("--balls", type=click.IntRange(1, 20), default=None, help="How many balls to take; needs --pattern.")
@options.database
@options.period
@options.settings
@options.refit
@options.quiet
def plan(
    bowler: str,
    patterns: tuple[str, ...],
    length_ft: float | None,
    volume_ml: float | None,
    ratio: float | None,
    games: int,
    balls: int | None,
    database: Path,
    settings_file: Path | None,
) -> None:
    """Plan posted patterns: which ball and line to start with, when to move, what to score, which balls to take."""
    from pipeline.decisions.wording.block_plan import event_text, plan_text

    settings = read_settings(settings_file)
    if patterns:
        if (length_ft, volume_ml, ratio) != (None, None, None):
            raise click.UsageError("Give each round by --pattern, or one by --length, --volume and --ratio; not both.")
        with console.progress_bar() as progress:
            event = api.plan_event(
                database,
                bowler,
                patterns,
                games=games,
                balls=balls,
                settings=settings,
                refit=options.is_refit(),
                progress=progress,
                **options.asked_nights(),
            )
        console.answer(event_text(event))
        return
    if length_ft is None or balls is not None:
        raise click.UsageError(
            "Name the pattern with --pattern, or give its length with --length; --balls takes names."
        )
    with console.progress_bar() as progress:
        answer = api.plan(
            database,
            bowler,
            length_ft,
            volume_ml,
            ratio,
            games=games,
            settings=settings,
            refit=options.is_refit(),
            progress=progress,
            **options.asked_nights(),
        )
    console.answer(plan_text(answer))


def main() -> None:
    """Run the command; every known failure is one sentence on standard error and a non-zero exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal may not know every sign of a name
    gc.set_threshold(*_SELDOM)  # almost nothing is garbage until exit: collect rarely
    atexit.register(gc.freeze)  # nor at exit, which would take half a second
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # matrices are small: more threads only wait for each other
    try:
        cli.main(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except BrokenPipeError:
        console.drop_output()
    except (Exception, KeyboardInterrupt) as error:
        if os.environ.get(TRACEBACK):
            raise
        sentence, code = console.failure(error)
        if code == console.STOPPED:
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # a second Ctrl-C finds nothing left to stop
        click.echo(f"rackledger: {printable(sentence)}", err=True)
        sys.exit(code)
