"""The practice session: what to throw and log, what it is expected to teach, and what it cannot show."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.records import PracticeSession
from pipeline.decisions.wording.practice import games_in_words
from reports.context import ReportContext
from reports.html.components import Bit, Cell, Row, Table
from reports.style import wording
from reports.views import common
from reports.views.common import tags


@dataclass(frozen=True)
class SessionCard:
    """One bowler's session: its finding in a few words, and the shots; no table if none is proposed."""

    session: PracticeSession
    finding: list[Bit]
    table: Table | None


def sessions(context: ReportContext) -> dict[str, SessionCard]:
    """Bowler -> session, in the order of the report."""
    by_bowler = {item.bowler: item for item in context.decisions.practice}
    return {bowler: _card(context, by_bowler[bowler]) for bowler in context.bowlers if bowler in by_bowler}


def _card(context: ReportContext, item: PracticeSession) -> SessionCard:
    if not item.shots:
        return SessionCard(item, [Bit("", "no ball needs testing")], None)
    balls = ", ".join(dict.fromkeys(wording.shorten(part.ball_name, 24) for part in item.shots))
    gain = f"{wording.signed(item.gain)} pins per game there"
    finding = [Bit("test", balls), Bit("", f"{wording.games(item.games)} on {item.pattern_class}", gain)]
    rows = [
        Row(
            [
                Cell(wording.sentence_case(games_in_words(part)), part.from_game, note=part.phase),
                common.text(part.ball_name),
                common.text(part.line),
                common.shots_cell(part.shots),
                common.shots_cell(part.logged),
            ],
            tags(item.bowler),
        )
        for part in item.shots
    ]
    columns = ["when", "ball", "line to start on", "shots to throw", "logged so far"]
    caption = f"{context.name(item.bowler)}: practice on {item.pattern_class}"
    return SessionCard(item, finding, Table(f"practice-{item.bowler}", caption, columns, rows))
