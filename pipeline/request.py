"""A request to ``report``, ``review`` or ``decide``: its places checked, its decisions made and written."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import api, console, options
from pipeline.output_files import refuse_inputs
from pipeline.settings import Settings

if TYPE_CHECKING:
    from pipeline.decisions.records import Decisions

Paths = tuple[Path | None, ...]


@dataclass(frozen=True)
class Hiding:
    """Whether names are hidden, and where the key to them is written."""

    hidden: bool
    key_file: Path | None

    def __post_init__(self) -> None:
        if self.key_file is not None and not self.hidden:
            raise click.UsageError("--alias-key goes with --alias: without it no name is hidden")

    def check(self, others: Paths) -> None:
        """Refuse a place for the key that cannot be written, or that is one of ``others``."""
        if self.key_file is not None:
            from pipeline.decisions.export.output_places import check_key

            refuse_inputs(self.key_file, others)
            check_key(self.key_file)


@dataclass(frozen=True)
class Exports:
    """Where decisions are written as data; at least one place is given."""

    json_file: Path | None
    csv_folder: Path | None
    ledger_file: Path | None

    def __post_init__(self) -> None:
        if self.json_file is None and self.csv_folder is None and self.ledger_file is None:
            raise click.UsageError("say where to write: --json FILE, --csv FOLDER or --ledger FILE")

    def check(self, inputs: Paths) -> None:
        """Refuse places that cannot be written, or where an input would be lost."""
        from pipeline.decisions.export.output_places import check_csv, check_json, check_ledger

        if self.json_file is not None:
            refuse_inputs(self.json_file, inputs)
            check_json(self.json_file)
        if self.csv_folder is not None:
            refuse_inputs(self.csv_folder, inputs)
            check_csv(self.csv_folder)
        if self.ledger_file is not None:
            refuse_inputs(self.ledger_file, (*inputs, self.json_file))
            check_ledger(self.ledger_file, self.csv_folder)

    @property
    def ledger_alone(self) -> bool:
        """Whether only the ledger is written, which needs no decisions."""
        return self.json_file is None and self.csv_folder is None

    def write(self, decisions: Decisions) -> None:
        """Write the decisions, and say where; the ledger is written while the season is open."""
        from pipeline.decisions.export.writers import to_csv, to_json

        if self.ledger_file is not None:
            console.say(f"wrote {self.ledger_file}")
        if self.json_file is not None:
            to_json(decisions, self.json_file)
            console.say(f"wrote {self.json_file}")
        if self.csv_folder is not None:
            to_csv(decisions, self.csv_folder)
            console.say(f"wrote CSV files in {self.csv_folder}")


@dataclass(frozen=True)
class Request:
    """Decisions about some bowlers of a stored season; which nights, and whether to refit, the options hold."""

    database: Path
    settings: Settings
    title: str
    about: tuple[str, ...]
    hiding: Hiding

    def decide(self, at_end: ExitStack, progress: api.Progress, ledger_file: Path | None = None) -> Decisions:
        """Fit and decide, and write key and ledger if they are asked for; see ``api.fit`` for ``at_end``."""
        from pipeline.decisions.export.writers import write_key

        key = None
        fitting, deciding = api.part(progress, 0.0, 0.5), api.part(progress, 0.5, 1.0)
        with api.fit(
            self.database,
            settings=self.settings,
            about=self.about,
            refit=options.is_refit(),
            in_two=True,
            at_end=at_end,
            progress=fitting,
            **options.asked_nights(),
        ) as fitted:
            if self.hiding.hidden:
                decisions, key = api.decide_hidden(fitted, title=self.title, progress=deciding)
            else:
                decisions = api.decide(fitted, title=self.title, progress=deciding)
            if ledger_file is not None:
                api.write_ledger(fitted, ledger_file, key)
        if key is not None and self.hiding.key_file is not None:
            write_key(key, self.hiding.key_file)
        return decisions

    def write_ledger(self, path: Path, progress: api.Progress) -> None:
        """Fit, and write the ledger of any number of bowlers, without decisions."""
        api.write_whole_ledger(
            self.database,
            path,
            settings=self.settings,
            about=self.about,
            refit=options.is_refit(),
            progress=progress,
            **options.asked_nights(),
        )
        console.say(f"wrote {path}")

    @staticmethod
    def start_drawing() -> None:
        """Start the engine that draws, in a process of its own: it reads its libraries while this one reads others."""
        from reports.charts import worker

        worker.start()

    def check_reports(self, out: Path, inputs: Paths) -> None:
        """Refuse places for reports and key that cannot be written, or where an input would be lost."""
        from reports.errors import ReportError
        from reports.place import check_place

        self.hiding.check((*inputs, out))
        refuse_inputs(out, inputs)
        check_place(out)
        if out.resolve() in self.database.resolve().parents:
            raise ReportError(
                f"{out}: the database {self.database} is in it; give a folder for the reports alone with --out."
            )

    def report(self, out: Path, progress: api.Progress, share: float) -> tuple[Decisions, Path]:
        """Decide, which is about a ``share`` of the work, and write the reports; returns the path of the index, too."""
        with ExitStack() as at_end:
            decisions = self.decide(at_end, api.part(progress, 0.0, share))
            index = api.report(decisions, out, progress=api.part(progress, share, 1.0))
        return decisions, index
