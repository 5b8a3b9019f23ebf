"""What the command prints: a progress bar, lines for the person, the one sentence of a failure, and its exit code."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import options
from pipeline.errors import TRACEBACK, RackledgerError, is_stop, printable
from pipeline.progress import Progress

if TYPE_CHECKING:
    from pipeline.decisions.records import Decisions
    from pipeline.intake.report import LoadReport

DONE_WITH_FAULTS = 3
"""Exit code of a run that finished but set rows aside or refused a file, so that a script can tell."""

STOPPED = 130
"""Exit code of a run stopped by Ctrl-C, as shells give it."""


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A progress bar on a terminal, silence elsewhere; it never mixes with what the command prints."""
    if options.is_quiet() or not sys.stderr.isatty():
        yield lambda _text, _fraction: None  # spares the import of what draws
        return
    from rich.console import Console
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda text, fraction: bar.update(task, description=text, completed=min(max(fraction, 0.0), 1.0))


def say(text: str = "") -> None:
    """Print a line for the user; nothing under --quiet. If the reader closes the pipe, only printing ends."""
    if options.is_quiet():
        return
    answer(text)


def answer(text: str) -> None:
    """Print what was asked for, --quiet or not."""
    try:
        click.echo(text)
    except BrokenPipeError:
        drop_output()


def drop_output() -> None:
    """Print nothing more: the reader of the output has closed it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_load(report: LoadReport) -> None:
    """Print what each file gave."""
    for line in report.lines():
        say(printable(line))


def print_report(decisions: Decisions, index: Path) -> None:
    """Print what the reports are about and where they are."""
    summary = decisions.summary
    counts = ((summary.deliveries, "delivery"), (len(summary.bowlers), "bowler"), (summary.blocks, "block"))
    deliveries, bowlers, blocks = (_counted(number, thing) for number, thing in counts)
    say(f"{deliveries} by {bowlers} in {blocks}.")
    say(f"Report: {index}")


def _counted(number: int, thing: str) -> str:
    several = f"{thing[:-1]}ies" if thing.endswith("y") else f"{thing}s"
    return f"{number:,} {thing if number == 1 else several}"


def failure(error: BaseException) -> tuple[str, int]:
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
