"""Pictures before tables: the lane by phase, and which choice leads at each game."""

from __future__ import annotations

from dataclasses import dataclass, replace

from markupsafe import Markup

from pipeline.decisions.records import BlockPlan, LanePath, Lead, PlanStep, Policy
from pipeline.decisions.wording.block_plan import games_of
from reports.context import ReportContext, pattern_order
from reports.html import lane, leads
from reports.html.components import Cell, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, tags

_FAINT = 4  # of the lines thrown, those thrown most
_SHOWN = 4  # choices in the picture of who leads
_FEWEST = 0.1  # a choice that is never this likely to lead is not drawn


@dataclass(frozen=True)
class Picture:
    """A drawing with its finding, words for those who cannot see it, and its values as a table."""

    key: str
    finding: str
    note: str
    svg: Markup
    alt: str
    table: Table
    tags: Tags
    kind: str


def lanes(context: ReportContext) -> dict[str, dict[str, Picture]]:
    """Bowler -> pattern class -> the lane by phase: what is advised strong, what was thrown faint."""
    paths = grouped(context.decisions.paths, lambda item: item.bowler)
    advised: dict[tuple[str, str, str], Policy] = {
        (item.bowler, item.pattern_class, item.phase): item.policy
        for item in context.decisions.playbook
        if item.policy is not None
    }
    pictures: dict[str, dict[str, Picture]] = {}
    for bowler in [known for known in context.bowlers if known in paths]:
        by_pattern = grouped(paths[bowler], lambda item: item.pattern_class)
        for pattern in sorted(by_pattern, key=pattern_order):
            by_phase = grouped(by_pattern[pattern], lambda item: item.phase)
            phases = [phase for phase in context.phases if phase in by_phase]
            best = {phase: advised.get((bowler, pattern, phase)) for phase in phases}
            if not any(best.values()):
                continue
            shown = {phase: _by_strength(by_phase[phase], best[phase]) for phase in phases}
            boards = {phase: p.start_board for phase, p in best.items() if p is not None and p.start_board is not None}
            pictures.setdefault(bowler, {})[pattern] = _lane_picture(
                context, f"lane-{bowler}-{pattern}", bowler, pattern, shown, boards
            )
    return pictures


Shown = dict[str, list[tuple[LanePath, bool]]]


def _by_strength(paths: list[LanePath], advised: Policy | None) -> list[tuple[LanePath, bool]]:
    """The path advised, where one was drawn, then the others: the line kept, or the one the ball was most thrown on."""
    order = sorted(paths, key=lambda item: -item.shots)
    strong = [item for item in order if advised is not None and _is_advised(item, advised)][:1]
    return [(item, True) for item in strong] + [(item, False) for item in order if item not in strong][:_FAINT]


def _is_advised(item: LanePath, advised: Policy) -> bool:
    return item.ball == advised.ball and (not advised.keeps_line or item.line == advised.line)


def _lane_picture(
    context: ReportContext, key: str, bowler: str, pattern: str, shown: Shown, boards: dict[str, float]
) -> Picture:
    """``boards``: by what ``shown`` is by, the board to start on where the ball moves with the lane."""
    shown = {
        phase: [(_moved(item, boards.get(phase)) if strong else item, strong) for item, strong in mine]
        for phase, mine in shown.items()
    }
    drawn = [
        lane.Lane(_title(phase, mine), tuple(_path(item, strong) for item, strong in mine))
        for phase, mine in shown.items()
    ]
    rows = [_row(phase, item, strong) for phase, mine in shown.items() for item, strong in mine]
    columns = [
        "phase",
        "ball and line",
        "drawn",
        "foul line",
        "arrows",
        "breakpoint",
        "breakpoint, ft",
        "pins",
        "shots",
    ]
    finding = _lane_finding(pattern, shown, boards)
    return Picture(
        key,
        finding,
        _note(drawn),
        lane.draw(drawn, context.hands.get(bowler) == "left"),
        f"Lane from above for {context.name(bowler)}, {pattern} pattern. {finding}. All boards are in the table below.",
        Table(f"{key}-data", f"{context.name(bowler)}, {pattern}: boards", columns, rows),
        tags(bowler, pattern),
        "lane",
    )


def _moved(item: LanePath, board: float | None) -> LanePath:
    """The path as logged, moved alongside itself to the board advised at the arrows; it enters where it did."""
    if board is None:
        return item
    by = board - item.arrow

    def beside(value: float | None) -> float | None:
        return None if value is None else min(max(value + by, 1.0), float(lane.BOARDS))

    moved = {"arrow": board, "laydown": beside(item.laydown), "breakpoint": beside(item.breakpoint)}
    return item.model_copy(update=moved)


def _note(drawn: list[lane.Lane]) -> str:
    if lane.arrows_alone(drawn):
        return "Strong: advised. Faint: thrown. Only boards at the arrows were logged."
    return f"Strong: advised. Faint: thrown. Dashed: not logged. Drawn {lane.STRETCH:.0f} times as wide."


def _title(phase: str, mine: list[tuple[LanePath, bool]]) -> str:
    strong = [item for item, strong in mine if strong]
    return f"{phase}: {wording.shorten(strong[0].ball_name, 24)}" if strong else phase


def _lane_finding(pattern: str, shown: Shown, boards: dict[str, float]) -> str:
    """The board advised at the arrows in the first phase that has one, and in the last."""
    strong = {phase: item for phase, mine in shown.items() for item, strong in mine if strong}
    head = wording.sentence_case(pattern)
    if not strong:
        return f"{head}: no line is advised yet"
    texts = [f"{boards.get(phase, item.arrow):.0f}" for phase, item in strong.items()]
    start = f"{head}: start over board {texts[0]} at the arrows"
    return start if len(texts) < 2 else f"{start}, then {', then '.join(texts[1:])}"


def _path(item: LanePath, strong: bool) -> lane.Path:
    boards = [
        ("foul line", item.laydown),
        ("arrows", item.arrow),
        ("breakpoint", item.breakpoint),
        ("pins", item.entry),
    ]
    texts = ", ".join(f"{name} {board:.1f}" for name, board in boards if board is not None)
    tip = f"{item.ball_name}, {item.line}: {texts}; {wording.shots(item.shots)}"
    return lane.Path(item.laydown, item.arrow, item.breakpoint, item.breakpoint_ft, item.entry, strong, tip)


def _row(phase: str, item: LanePath, strong: bool) -> Row:
    values = (item.laydown, item.arrow, item.breakpoint, item.breakpoint_ft, item.entry)
    boards = [common.number(v, f"{v:.1f}") if v is not None else Cell("not logged") for v in values]
    names = [common.text(phase), common.text(f"{item.ball_name}, {item.line}")]
    cells = [*names, common.text("strong" if strong else "faint"), *boards, common.shots_cell(item.shots)]
    return Row(cells, group=wording.sentence_case(phase))


def plan_lane(context: ReportContext, plan: BlockPlan, place: int) -> Picture | None:
    """The lane of a plan: one drawing for each step, its line strong; None if no step's line was ever drawn there."""
    paths = [item for item in context.decisions.paths if item.bowler == plan.bowler]
    shown: Shown = {}
    for step in plan.steps:
        own = _path_of(step, plan.pattern_class, paths)
        if own is not None:
            shown[games_of(step)] = [(own, True)]
    boards = {games_of(step): step.start_board for step in plan.steps if step.start_board is not None}
    key = f"lane-plan-{place}"
    if not shown:
        return None
    picture = _lane_picture(context, key, plan.bowler, plan.pattern_class, shown, boards)
    return replace(picture, tags=Tags())  # a plan is chosen as a whole, by its bowler and its posted pattern


def _path_of(step: PlanStep, pattern: str, paths: list[LanePath]) -> LanePath | None:
    """The step's line, or of a ball that moves the one thrown most, on the plan's own pattern class."""
    same = [p for p in paths if (p.ball, p.pattern_class) == (step.ball, pattern)]
    same = [p for p in same if p.line == step.line or not step.keeps_line]
    return max(same, key=lambda item: item.shots, default=None)


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
        "Full colour: advised. Number: chance in 100 of being best then. Pale but larger: too small a gain to change.",
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
    order = sorted(advised, key=lambda item: item.game)
    for place, item in enumerate(order):
        if place and order[place - 1].ball == item.ball:
            continue
        sure = "" if item.p_best is None else f" ({100 * item.p_best:.0f} in 100)"
        balls.append(f"{wording.shorten(item.ball_name, 24)} from game {item.game}{sure}")
    return f"{wording.sentence_case(pattern)}: {', then '.join(balls)}"
