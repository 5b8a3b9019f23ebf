"""The season in numbers: who bowled, how much was logged, and what was missing."""

from __future__ import annotations

import pandas as pd

from pipeline.decisions.candidates import row_dicts
from pipeline.decisions.records import BowlerCard, RefusedFile, ReportPeriod, SeasonSummary
from pipeline.decisions.wording.names import bowler_named
from pipeline.decisions.wording.notes import note_text
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.store.period import Period
from pipeline.store.season import EmptySeasonError, Season

OPTIONAL_COLUMNS = (
    "laydown_board",
    "arrow_board",
    "breakpoint_board",
    "breakpoint_ft",
    "entry_board",
    "entry_angle_deg",
    "speed_mph",
    "rev_rpm",
)
_OF_AGE = 18


def summarise_season(fitted: Fitted) -> SeasonSummary:
    """Totals of the season and a card for every bowler with a delivery.

    Raises:
        EmptySeasonError: no delivery was loaded.
    """
    totals = row_dicts(fitted.season.frame("cells/season_totals"))[0]
    if int(totals["deliveries"]) == 0:
        raise EmptySeasonError("The season holds no delivery. Load a folder with shot files first.")
    last = pd.Timestamp(totals["last_date"])
    return SeasonSummary(
        period=_nights(fitted.season.period),
        beside=_nights(fitted.season.period and fitted.season.period.before),
        first_date=pd.Timestamp(totals["first_date"]).date(),
        last_date=last.date(),
        bowlers=_cards(fitted.season, last.year),
        blocks=int(totals["blocks"]),
        games=int(totals["games"]),
        deliveries=int(totals["deliveries"]),
        rows_read=int(totals["rows_read"]),
        rows_quarantined=int(totals["rows_quarantined"]),
        rows_repaired=int(totals["rows_repaired"]),
        refused_files=_refused(fitted.season),
        share_logged={name: 0.0 if pd.isna(totals[name]) else float(totals[name]) for name in OPTIONAL_COLUMNS},
        notes=_notes(fitted.fits),
    )


def _nights(period: Period | None) -> ReportPeriod | None:
    return None if period is None else ReportPeriod(season=period.name, first=period.since, last=period.until)


def game_scores(season: Season) -> pd.DataFrame:
    """One row per game: bowler, block, date, pattern_class, game, phase, score (missing if not complete)."""
    return season.frame("cells/game_scores")


def _refused(season: Season) -> list[RefusedFile]:
    return [
        RefusedFile(file=str(row["file"]), problem=str(row["problem"]), rows_kept=int(row["rows_kept"]))
        for row in row_dicts(season.frame("cells/refused_files"))
    ]


def _cards(season: Season, year: int) -> list[BowlerCard]:
    scores = game_scores(season).dropna(subset=["score"]).groupby("bowler")["score"]
    averages, complete = scores.mean(), scores.size()
    cards = []
    for row in row_dicts(season.frame("cells/bowler_counts")):
        average = averages.get(row["bowler"])
        cards.append(
            BowlerCard(
                bowler=str(row["bowler"]),
                name=bowler_named(row["bowler"]),
                hand=str(row["hand"]),
                style=str(row["style"]),
                coach=None if pd.isna(row["coach"]) else str(row["coach"]),
                minor=not pd.isna(row["birth_year"]) and bool(year - int(row["birth_year"]) < _OF_AGE),
                games=int(row["games"]),
                shots=int(row["shots"]),
                games_complete=int(complete.get(row["bowler"], 0)),
                average=None if average is None else float(average),
                strike_rate=int(row["strikes"]) / int(row["shots"]) if row["shots"] else 0.0,
            )
        )
    return cards


def _notes(fits: Fits) -> list[str]:
    """Notes on what the models lacked, each sentence once."""
    return [note_text(note) for note in dict.fromkeys(fits.notes)]
