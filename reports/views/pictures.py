"""Pictures before tables: the lane by phase, and the lane of a plan."""

from __future__ import annotations

from dataclasses import dataclass, replace

from markupsafe import Markup

from pipeline.decisions.records import BlockPlan, LanePath, PlanStep, Policy
from pipeline.decisions.wording.block_plan import games_of
from pipeline.decisions.wording.policy import A_MOVE
from reports.context import ReportContext, pattern_order
from reports.html import lane
from reports.html.components import Cell, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.common import grouped, tags

_FAINT = 4  # of the lines thrown, those thrown most


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
    """The board advised at the arrows in the first phase that has one, and in the later ones."""
    strong = {phase: item for phase, mine in shown.items() for item, strong in mine if strong}
    head = wording.sentence_case(pattern)
    if not strong:
        return f"{head}: no line is advised yet"
    first, *later = ((phase, f"{boards.get(phase, item.arrow):.0f}") for phase, item in strong.items())
    start = f"{head}: start over board {first[1]} at the arrows"
    return f"{start}; {', '.join(f'{phase} {board}' for phase, board in later)}" if later else start


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
        path = _path_of(step, plan.pattern_class, paths)
        if path is not None:
            shown[games_of(step)] = [(path, True)]
    boards = {games_of(step): step.start_board for step in plan.steps if step.start_board is not None}
    key = f"lane-plan-{place}"
    if not shown:
        return None
    picture = _lane_picture(context, key, plan.bowler, plan.pattern_class, shown, boards)
    finding = _plan_finding(plan, [step for step in plan.steps if games_of(step) in shown], shown, boards)
    # a plan is chosen as a whole, by its bowler and its posted pattern
    return replace(picture, tags=Tags(), finding=finding, alt=picture.alt.replace(picture.finding, finding))


def _plan_finding(plan: BlockPlan, steps: list[PlanStep], shown: Shown, boards: dict[str, float]) -> str:
    """Where each step starts, and from which game on the line moves."""
    said: list[str] = []
    for step in steps:
        board = f"board {boards.get(games_of(step), shown[games_of(step)][0][0].arrow):.0f}"
        if not said:
            said.append(f"start over {board} at the arrows")
        elif board in said[-1]:
            said.append(f"from game {step.from_game} still {board}")
        else:
            said.append(f"from game {step.from_game} {board}")
        if abs(step.boards_a_game or 0.0) >= A_MOVE:
            said[-1] += ", moving in" if (step.boards_a_game or 0.0) > 0 else ", moving out"
    return f"{wording.sentence_case(plan.pattern_class)}: {'; '.join(said)}"


def _path_of(step: PlanStep, pattern: str, paths: list[LanePath]) -> LanePath | None:
    """The step's line, or of a ball that moves the one thrown most, on the plan's own pattern class."""
    same = [p for p in paths if (p.ball, p.pattern_class) == (step.ball, pattern)]
    same = [p for p in same if p.line == step.line or not step.keeps_line]
    return max(same, key=lambda item: item.shots, default=None)
