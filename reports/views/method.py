"""Method: what was logged and not, checks, calibration, the sensitivity check, and cautions."""

from __future__ import annotations

from math import isnan
from typing import Any

from pipeline.decisions.records import CalibrationBin, Sensitivity
from pipeline.decisions.wording import cautions
from pipeline.validation.ledger_record import ledger_record
from pipeline.validation.track_record import track_record
from reports.charts import figures
from reports.context import ReportContext
from reports.html import strips
from reports.html.components import Cell, Chart, Legend, Row, Table, Tags
from reports.style import wording
from reports.views import common
from reports.views.ledger_words import PART_LABELS


def view(context: ReportContext) -> dict[str, Any]:
    """Everything the method template shows."""
    return {
        "logged": logged(context),
        "calibration": calibration_chart(context),
        "right": how_often_right(context),
        "simulated": simulated(),
        "leads_held": wording.percent(min(item.margins_80 for item in track_record())),
        "ledger": ledger_held(),
        "checks": checks(context),
        "sensitivity": sensitivity(context),
        "held_out": held_out(context),
        "gained": next(iter(context.decisions.held_out), None),
        "cautions": cautions.ALL,
        "left_out": context.decisions.left_out,
    }


_TOO_NOISY = 2.0  # times the width of the model's own interval, beyond which a second estimate confirms nothing
_MEASURES = {
    "laydown_board": "board at the foul line",
    "arrow_board": "board at the arrows",
    "breakpoint_board": "board at the breakpoint",
    "breakpoint_ft": "distance of the breakpoint",
    "entry_board": "board at the pins",
    "entry_angle_deg": "entry angle",
    "speed_mph": "speed",
    "rev_rpm": "rev rate",
}


def logged(context: ReportContext) -> Table:
    """Share of first deliveries with a value, by column."""
    shares = sorted(context.decisions.summary.share_logged.items(), key=lambda item: item[1])
    rows = [
        Row([common.text(_MEASURES[column]), common.number(share, wording.percent(share))]) for column, share in shares
    ]
    return Table("logged", "How much was logged", ["what", "share of first balls"], rows)


def calibration_chart(context: ReportContext) -> Chart | None:
    """Predicted against observed strike rates on blocks the model had not seen."""
    bins = sorted(context.decisions.calibration, key=lambda item: (item.source, item.predicted))
    mine = [item for item in bins if item.source == "model"]
    if not mine:
        return None
    total = sum(item.shots for item in mine)
    off = sum(abs(item.predicted - item.observed) * item.shots for item in mine) / max(total, 1)
    finding = f"On blocks it had not seen, the model was off by {100 * off:.1f} points on average"
    rows = [
        Row(
            [
                common.text(item.source),
                common.number(item.predicted, wording.percent(item.predicted, 1)),
                common.number(item.observed, wording.percent(item.observed, 1)),
                common.shots_cell(item.shots),
            ]
        )
        for item in bins
    ]
    return Chart(
        "calibration",
        finding,
        f"Held-out blocks, {wording.shots(total)}. On the dotted line the two agree.",
        context.pen.draw(figures.calibration, bins),
        f"Observed strike rate against predicted strike rate in {len(mine)} bins. {finding}."
        " All values are in the table below.",
        Table("calibration-data", "Calibration", ["source", "predicted", "observed", "shots"], rows),
        Tags(),
        [Legend("the model of this report", 0), Legend("challenger: boosted trees", 1)],
    )


_GROUPS = ("least likely third", "middle third", "most likely third")


def how_often_right(context: ReportContext) -> Table:
    """What was said against what came, on blocks the model had not seen, and how many checks it passed."""
    rows = [
        Row(
            [
                common.text(f"Strikes, {name} of first balls"),
                common.number(said, wording.percent(said)),
                common.number(was, wording.percent(was)),
                common.number(shots, wording.shots(shots)),
            ]
        )
        for name, said, was, shots in thirds(context.decisions.calibration)
    ]
    passed = [item.passed for item in context.decisions.checks if item.passed is not None]
    second = [_agreement(item) for item in context.decisions.sensitivity]
    for what, hits, out_of in (
        ("Checks of the models passed", sum(passed), len(passed)),
        ("Comparisons that a second estimate confirms", second.count("agree"), len(second)),
        ("Comparisons that it contradicts", second.count("contradict each other"), len(second)),
    ):
        if out_of:
            rows.append(
                Row(
                    [
                        common.text(what),
                        Cell(""),
                        common.number(hits, str(hits)),
                        Cell(f"of {out_of}", out_of),
                    ]
                )
            )
    return Table("how-often-right", "How often it is right", ["what", "predicted", "observed", "out of"], rows)


def thirds(bins: list[CalibrationBin]) -> list[tuple[str, float, float, int]]:
    """Name, mean predicted, share observed and shots of the model's bins in three groups by what was predicted."""
    mine = sorted((item for item in bins if item.source == "model" and item.shots), key=lambda item: item.predicted)
    total, before = sum(item.shots for item in mine), 0
    groups: list[list[CalibrationBin]] = [[], [], []]
    for item in mine:
        groups[min(3 * (2 * before + item.shots) // (2 * total), 2)].append(item)
        before += item.shots
    rows = []
    for name, group in zip(_GROUPS, groups, strict=True):
        shots = sum(item.shots for item in group)
        if shots:
            said = sum(item.predicted * item.shots for item in group) / shots
            was = sum(item.observed * item.shots for item in group) / shots
            rows.append((name, said, was, shots))
    return rows


_WORLDS = {
    "shared_lane": "nights differ by 1 board",
    "shared_lane_strong": "nights differ by 2.5 boards",
    "ball_numbers": "a ball's numbers count, its class does not",
    "oil_paths": "oil wears board by board",
    "hidden_demand": "the lane asks for a line and a grip nobody logs",
    "breaking_lanes": "lanes change within a few frames",
}


def world_in_words(world: str) -> str:
    """What the lanes of a simulated world do."""
    return _WORLDS.get(world, world.replace("_", " "))


def simulated() -> Table:
    """How often the tool was right in whole simulated seasons, by world."""
    rows = [
        Row(
            [
                common.text(world_in_words(item.world)),
                common.number(
                    item.held_80,
                    wording.percent(item.held_80),
                    f"kept {wording.percent(item.kept_80)}, lead {wording.percent(item.margins_80)}",
                ),
                common.number(
                    item.gain_true,
                    wording.signed(item.gain_true),
                    f"stated {wording.signed(item.gain_stated)}, possible {wording.signed(item.gain_possible)}",
                ),
                common.number(item.items_true, wording.percent(item.items_true)),
                common.number(
                    item.best_right, wording.percent(item.best_right), f"stated {wording.percent(item.best_said)}"
                ),
                common.number(item.settled_right, wording.percent(item.settled_right)),
                common.number(item.seasons, wording.count(item.seasons)),
            ]
        )
        for item in track_record()
    ]
    columns = ["simulated lanes", "80 % intervals that hold the truth", "true gain of the advice, pins per game"]
    columns += [
        "share of the stated gain that the first three bring",
        "line ranked first is the best",
        "settled choice is the best",
        "seasons",
    ]
    return Table("simulated", "How often it was right in simulated seasons", columns, rows)


def ledger_held() -> Table:
    """How often intervals of the ledger's parts held in simulated seasons."""
    rows = [
        Row(
            [
                common.text(PART_LABELS.get(part, "level of a block")),
                _from_to(item.block_low, item.block_low_se, item.block_high),
                Cell("") if isnan(item.season_low) else _from_to(item.season_low, item.season_low_se, item.season_high),
                common.text("rough" if item.rough else ""),
            ]
        )
        for part, item in ledger_record().items()
    ]
    held = "80 % intervals of a block that hold, by lanes; ± is the lowest share's standard error by season"
    columns = ["part", held, "of a season", "rough: under 70 % of blocks or 65 % of seasons on some lanes"]
    return Table("ledger-held", "parts of a score", columns, rows)


def _from_to(low: float, error: float, high: float) -> Cell:
    """The least share with its standard error, and the largest."""
    return common.number(low, wording.percent(low), f"± {100 * error:.0f}, to {wording.percent(high)}")


def discount() -> str:
    """How much of what the first things to do promise they kept in simulated seasons: ``68 to 85 %``."""
    shares = [item.items_true for item in track_record()]
    return f"{100 * min(shares):.0f} to {wording.percent(max(shares))}"


def kept_held() -> str:
    """How often an 80 % interval of a line kept all night held in the simulated world where it failed most."""
    return wording.percent(min(item.kept_80 for item in track_record()))


def checks(context: ReportContext) -> Table:
    """Checks a statistician would ask for."""
    state = {True: "passed", False: "not passed", None: "for information"}
    rows = [
        Row(
            [
                Cell(item.name, item.name, full=item.sentence),
                common.number(item.value, f"{item.value:.3g}".replace("-", wording.MINUS)),
                common.text(wording.tidy(item.expected)),
                Cell(state[item.passed], state[item.passed], kind=f"verdict c-{state[item.passed].split()[0]}"),
            ]
        )
        for item in context.decisions.checks
    ]
    return Table("checks", "Checks of the models", ["check", "value", "expected", "outcome"], rows)


def held_out(context: ReportContext) -> Table:
    """What the choice of ball gained on blocks that had no part in it."""
    gains = context.decisions.held_out
    scale = strips.scale_for([item.gain for item in gains])
    rows = [
        Row(
            [
                Cell(context.name(item.bowler), item.bowler, full=item.sentence),
                common.pins(item.gain, scale, item.shots),
                Cell("") if item.predicted is None else common.number(item.predicted, wording.signed(item.predicted)),
                common.text(item.verdict),
                common.number(item.share_changed, wording.percent(item.share_changed)),
                common.number(item.blocks, str(item.blocks)),
                common.shots_cell(item.shots),
            ]
        )
        for item in gains
    ]
    columns = ["bowler", "gain, pins per game (80 %)", "predicted", "outcome", "shots it changes", "blocks", "shots"]
    return Table("held-out", "The choice of ball on nights it had not seen", columns, rows)


def _agreement(item: Sensitivity) -> str:
    """How the second estimate bears on the first: it confirms only if it is about as precise."""
    if not item.agree:
        return "contradict each other"
    second, first = item.doubly_robust, item.model
    noisy = second.hi80 - second.lo80 > _TOO_NOISY * (first.hi80 - first.lo80)
    return "too noisy to confirm" if noisy else "agree"


def sensitivity(context: ReportContext) -> Table:
    """Adjusted contrasts, estimated a second way."""
    items = context.decisions.sensitivity
    scale = strips.scale_for([item for pair in items for item in (pair.model, pair.doubly_robust)])
    rows = [
        Row(
            [
                Cell(item.question, f"{context.name(item.bowler)}: {item.question}", note=context.name(item.bowler)),
                common.pins(item.model, scale, item.shots),
                common.pins(item.doubly_robust, scale, item.shots),
                common.number(item.raw, wording.signed(item.raw)),
                common.text(_agreement(item)),
                common.shots_cell(item.shots),
            ],
            group=wording.sentence_case(_agreement(item)),
        )
        for item in items
    ]
    columns = ["question", "model, pins per game (80 %)", "doubly robust, pins per game (80 %)"]
    columns += ["unadjusted", "outcome", "shots"]
    extra = frozenset(["unadjusted", "shots"])
    return Table("sensitivity", "The same comparisons, estimated a second way", columns, rows, extra)
