"""Which ball is best at each game of a block, as one picture per pattern class."""

from __future__ import annotations

from pipeline.decisions.records import Lead
from reports.context import ReportContext, pattern_order
from reports.html import leads
from reports.html.components import Bit, Row, Table
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, tags
from reports.views.pictures import Picture

_SHOWN = 4  # balls in the picture
_FEWEST = 0.1  # a ball that is never this likely to be the best is not drawn


def lead_pictures(context: ReportContext) -> dict[str, list[Picture]]:
    """Bowler -> one picture for each pattern class: which ball leads at each game, how surely, and what is advised."""
    by_bowler = grouped(context.decisions.leads, lambda item: item.bowler)
    pictures: dict[str, list[Picture]] = {}
    for bowler in [known for known in context.bowlers if known in by_bowler]:
        by_pattern = grouped(by_bowler[bowler], lambda item: item.pattern_class)
        longest = max(item.game for item in by_bowler[bowler])
        for pattern in sorted(by_pattern, key=pattern_order):
            if any(item.p_best is not None for item in by_pattern[pattern]):
                picture = _lead_picture(context, bowler, pattern, by_pattern[pattern], longest)
                pictures.setdefault(bowler, []).append(picture)
    return pictures


def _lead_picture(context: ReportContext, bowler: str, pattern: str, items: list[Lead], columns: int) -> Picture:
    games = sorted({item.game for item in items})
    by_ball = grouped(items, lambda item: item.ball)
    kept = [ball for ball, mine in by_ball.items() if any(item.advised or _chance(item) >= _FEWEST for item in mine)]
    first = {item.ball: -item.game for item in reversed(items) if item.advised}
    order = sorted(kept, key=lambda ball: (-first.get(ball, -len(games) - 1), -max(map(_chance, by_ball[ball]))))
    drawn = order[: max(_SHOWN, len(first))]
    names = {ball: wording.shorten(by_ball[ball][0].ball_name, 24) for ball in drawn}
    at = {(item.ball, item.game): item for item in items}
    rows = [leads.LeadRow(names[ball], [_mark(at.get((ball, game))) for game in games]) for ball in drawn]
    key = f"leads-{bowler}-{pattern}"
    finding = lead_finding(pattern, [item for item in items if item.advised])
    return Picture(
        key,
        finding,
        "Purple: advised. Number: chance in 100 of being the best ball then.",
        leads.draw(rows, games, columns),
        f"Which ball leads at each game for {context.name(bowler)}, {pattern} pattern. {finding}."
        " All values are in the table below.",
        _lead_table(context, key, bowler, pattern, items),
        tags(bowler, pattern),
        "leads",
    )


def _chance(item: Lead) -> float:
    return 1.0 if item.p_best is None else item.p_best


def _mark(item: Lead | None) -> leads.LeadMark | None:
    return None if item is None else leads.LeadMark(item.p_best, item.advised, how(item))


def how(item: Lead) -> str:
    """``moving with the lane``, or the line that is kept."""
    return f"{item.line} kept" if item.keeps_line else "moving with the lane"


def _lead_table(context: ReportContext, key: str, bowler: str, pattern: str, items: list[Lead]) -> Table:
    rows = [
        Row(
            [
                common.number(item.game, f"{item.game}"),
                common.text(item.ball_name),
                common.text(how(item)),
                common.text("advised" if item.advised else ""),
                common.bare_pins(item.worth),
                common.number(_chance(item), "only one" if item.p_best is None else wording.in_hundred(item.p_best)),
                common.shots_cell(item.shots),
            ],
            group=item.ball_name,
        )
        for item in items
    ]
    columns = ["game", "ball", "played", "advised", "worth, pins per game (80 %)", "chance it is best", "shots"]
    return Table(f"{key}-data", f"{context.name(bowler)}, {pattern}: what leads at each game", columns, rows)


def lead_finding(pattern: str, advised: list[Lead]) -> str:
    """The ball advised first and each one changed to, with its chance of being best as it comes in."""
    balls = []
    for item in _comes_in(advised):
        sure = "" if item.p_best is None else f" ({100 * item.p_best:.0f} in 100)"
        balls.append(f"{wording.shorten(item.ball_name, 24)} from game {item.game}{sure}")
    return f"{wording.sentence_case(pattern)}: {', then '.join(balls)}"


def _comes_in(advised: list[Lead]) -> list[Lead]:
    """Of one pattern class, the first game of the ball advised first and of each one changed to."""
    order = sorted(advised, key=lambda item: item.game)
    return [item for place, item in enumerate(order) if not place or order[place - 1].ball != item.ball]


def lead_digest(context: ReportContext, bowler: str) -> list[Bit]:
    """The balls advised on each pattern class, and from which game each comes in."""
    mine = [item for item in context.decisions.leads if item.bowler == bowler and item.advised]
    by_pattern = grouped(mine, lambda item: item.pattern_class)
    bits = []
    for pattern in sorted(by_pattern, key=pattern_order):
        first, *later = _comes_in(by_pattern[pattern])
        names = [wording.shorten(item.ball_name, 24) for item in (first, *later)]
        bits.append(
            Bit(pattern, ", then ".join(names), ", ".join(f"from game {item.game}" for item in later), pattern=pattern)
        )
    return bits
