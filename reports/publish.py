"""All reports of a season into one folder, whole or not at all."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from pipeline.decisions.records import Decisions
from pipeline.output_files import usual_mode
from pipeline.progress import Progress
from reports import files, page, staging
from reports.charts.queue import pen
from reports.context import ReportContext
from reports.errors import ReportError
from reports.place import check_place, real_place
from reports.views import advice, answers, arsenal, method, person, plan, season, skills, students, transition

View = Callable[[ReportContext], dict[str, Any]]

_VIEWS: dict[str, View] = {
    "season": season.view,
    "transition": transition.view,
    "arsenal": arsenal.view,
    "students": students.view,
    "person": person.view,
    "plan": plan.view,
    "method": method.view,
}


def render_all(decisions: Decisions, out: Path, progress: Progress | None = None) -> Path:
    """Write the eight files to ``out`` and return the path of the index.

    The files are made in a folder beside ``out`` and swapped in by renaming, so that a run that fails leaves the
    earlier reports whole. ``progress`` is called with a text and the share done, 0 to 1.

    Raises:
        ReportError: ``out`` is a file, or a folder with files that are not these reports, or cannot be written.
    """
    tell = progress or (lambda text, share: None)
    shown = out.absolute()
    check_place(out)
    out = real_place(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        staging.sweep(out)
        with staging.unfinished(out) as fresh:
            for name, text in pages(decisions, tell):
                (fresh / name).write_text(text, encoding="utf-8", errors="replace")
            _keep_permissions(fresh, out)
            _swap(fresh, out)
    except OSError as error:
        mend = "free the disk or choose another folder with --out"
        raise ReportError(f"{out}: cannot be written ({error.strerror}); {mend}.") from error
    tell("reports written", 1.0)
    return shown / files.INDEX.file


def pages(decisions: Decisions, tell: Progress) -> Iterable[tuple[str, str]]:
    """File name and text of each report; all charts are asked for first, and drawn while pages are written."""
    expected = max(_charts_expected(decisions), 1)
    drawn = 0

    def tick() -> None:
        nonlocal drawn
        drawn += 1
        tell("drawing charts", min(drawn / expected, 1.0))

    with pen(tick) as drawing:
        shared = ReportContext(decisions, drawing)
        lists = {
            "kept_held": method.kept_held(),
            "advice": {"": advice.best_advice(shared)}
            | {bowler: advice.best_advice(shared, bowler) for bowler in shared.bowlers},
        }
        views = {slug: view(shared) for slug, view in _VIEWS.items()} | {
            "index": {
                "tiles": season.tiles(shared),
                "answers": answers.index(shared),
                "spread": answers.spread,
                "shown": skills.shown,
                "trust": next((item for item in decisions.held_out if item.predicted is not None), None),
                "discount": method.discount(),
                "left_out": decisions.left_out,
            }
        }
        for report in files.ALL:
            yield report.file, page.render_page(report, shared, lists | views[report.slug])


def _keep_permissions(fresh: Path, out: Path) -> None:
    """Give the new folder and its files the permissions of those they replace, or the usual ones here."""
    for file in fresh.iterdir():
        file.chmod(usual_mode(out / file.name))
    fresh.chmod(usual_mode(out, folder=True))


def _swap(fresh: Path, out: Path) -> None:
    """Put ``fresh`` where ``out`` is; the old folder comes back if that fails."""
    if not out.exists():
        fresh.rename(out)
        return
    if _exchange(fresh, out):
        return
    with staging.replaced(out) as place:
        old = place / "reports"
        out.rename(old)
        try:
            fresh.rename(out)
        except OSError:
            old.rename(out)
            raise


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step, so a killed run cannot stop in between; False if the system cannot."""
    call = getattr(ctypes.CDLL(None), "renameat2", None) if os.name == "posix" else None
    if call is None:
        return False
    here, exchange = -100, 2  # AT_FDCWD and RENAME_EXCHANGE of Linux's fcntl.h and fs.h
    return bool(call(here, os.fsencode(one), here, os.fsencode(other), ctypes.c_uint(exchange)) == 0)


def _charts_expected(decisions: Decisions) -> int:
    curves = {(item.bowler, item.pattern_class, item.axis) for item in decisions.curves}
    entry = {item.bowler for item in decisions.entry}
    ageing = sum(len(item.curve) > 1 for item in decisions.arsenal)
    seasons = {item.bowler for item in decisions.ledger_blocks}
    drawn = len(decisions.plans) + len(seasons)
    return drawn + len(curves) + len(entry) + ageing + bool(decisions.calibration)
