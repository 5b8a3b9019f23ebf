"""The worth and entry models: what they recover from a season with known truth, and what they do without data."""

from collections.abc import Iterator

import numpy as np
import pandas as pd
import pytest

from pipeline.inference.mixed_logit.codings import place_in
from pipeline.inference.mixed_logit.conditional_mode import Term
from pipeline.inference.mixed_logit.fit import fit_mixed_logit
from pipeline.models.notes import Note
from pipeline.models.strikes.strike_by_entry import fit_entry
from pipeline.models.strikes.strike_worth import WorthFit, fit_worth, fit_worth_cells
from pipeline.models.strikes.worth_cells import worth_cells
from pipeline.settings import Settings
from pipeline.store.season import Season
from sample_logs.generate import SimulatedSeason, simulate_season
from tests.models.made_cells import balance, listed, made_cells
from tests.recovery.in_memory import open_simulated

GRID = ["bowler", "pattern_class", "game", "ball", "line", "length_ft", "volume_ml", "ratio"]


@pytest.fixture(scope="module")
def simulated() -> SimulatedSeason:
    return simulate_season(7)


@pytest.fixture(scope="module")
def season(simulated: SimulatedSeason) -> Iterator[Season]:
    with open_simulated(simulated, Settings()) as opened:
        yield opened


@pytest.fixture(scope="module")
def worth(season: Season) -> WorthFit:
    return fit_worth(season)


@pytest.fixture(scope="module")
def made() -> WorthFit:
    cells = made_cells(np.random.default_rng(1), blocks=48, planted={("b0", "short", "b0-1"): 1.3})
    return fit_worth_cells(cells, balance(), listed(cells))


def _grid(**columns: object) -> pd.DataFrame:
    base = {"bowler": "b0", "pattern_class": "short", "game": 3, "ball": "b0-0", "line": "third arrow"}
    return pd.DataFrame([{**base, **columns}])


def test_every_first_delivery_is_used(season, worth):
    counted = season.connection.execute("SELECT count(*) FROM first_balls").fetchone()[0]
    assert worth.shots == counted


def test_estimates_are_nearer_the_truth_than_raw_averages_and_intervals_cover(simulated, season, worth):
    cells = worth_cells(season)
    cells = cells[(cells["pattern_class"] != "unposted") & (cells["line"] != "line not logged")]
    grid = cells.groupby(GRID, as_index=False)[["shots", "strikes"]].sum()
    truth = simulated.truth.true_strike_probability(grid)
    draws = worth.strike_draws(grid, 600, np.random.default_rng(2))
    weight = (grid["shots"] / grid["shots"].sum()).to_numpy()
    low, high = np.quantile(draws, [0.1, 0.9], axis=0)
    raw = (grid["strikes"] / grid["shots"]).to_numpy()
    error = np.sqrt(weight @ (draws.mean(axis=0) - truth) ** 2)
    assert error < 0.4 * np.sqrt(weight @ (raw - truth) ** 2)
    assert abs(weight @ (draws.mean(axis=0) - truth)) < 0.015
    assert 0.70 < weight @ ((truth >= low) & (truth <= high)) < 0.90  # one season; many are in tests/recovery


def test_a_season_refitted_from_rows_agrees_with_the_counts(season, worth):
    model = worth.model
    sds = [*(model.fit.sd[group.name] for group in model.groups), model.fit.scale_multiplier]
    counted = "SELECT *, pair_load // 20 * 20 + 9.5 AS load, strike::INT AS hit FROM first_balls"
    rows = season.connection.execute(counted).df()
    worn = worth_cells(season)[["ball", "block", "worn"]].drop_duplicates()
    rows = rows.assign(pair_load=rows["load"]).merge(worn, on=["ball", "block"])
    fits = []
    for frame, y, m in (
        (worth.frame(worth_cells(season)), "strikes", "shots"),
        (worth.frame(rows.assign(one=1)), "hit", "one"),
    ):
        codes = [place_in(model.levels[group.name], frame, group.columns) for group in model.groups]
        terms = [Term(g.name, c, len(model.levels[g.name])) for g, c in zip(model.groups, codes, strict=True)]
        fits.append(
            fit_mixed_logit(
                model.design.matrix(frame),
                terms,
                frame[y].to_numpy(dtype=float),
                frame[m].to_numpy(dtype=float),
                fixed_precision=model.design.precision(),
                shared=model.design.shared(),
                sds=sds,
            )
        )
    counts, each = fits
    assert each.fixed == pytest.approx(counts.fixed, abs=1e-8)
    assert each.random["ball"] == pytest.approx(counts.random["ball"], abs=1e-8)
    assert np.diag(each.fixed_covariance) == pytest.approx(np.diag(counts.fixed_covariance), abs=1e-8)


def test_a_ball_that_works_for_one_bowler_on_one_pattern_class_is_found(made):
    grid = pd.concat([_grid(ball="b0-1"), _grid(ball="b0-1", pattern_class="long"), _grid(bowler="b1", ball="b1-1")])
    logit = made.logit_draws(grid, 1000, np.random.default_rng(3))
    assert np.quantile(logit[:, 0] - logit[:, 1], 0.05) > 0.3
    # Between bowlers, what each makes of the line is uncertain too: sure of the sign is all that is asked.
    assert np.quantile(logit[:, 0] - logit[:, 2], 0.05) > 0


def test_a_bowler_at_home_on_one_pattern_class_is_expected_to_be_so_with_a_new_ball():
    planted = {("b0", "short", f"b0-{k}"): 0.9 for k in range(3)}
    cells = made_cells(np.random.default_rng(4), planted=planted)
    fit = fit_worth_cells(cells, balance(), listed(cells))
    grid = pd.concat([_grid(bowler=b, ball="new", pattern_class=p) for b in ("b0", "b1") for p in ("short", "long")])
    logit = fit.logit_draws(grid.assign(ball_class="urethane"), 1000, np.random.default_rng(5))
    more = (logit[:, 0] - logit[:, 1]) - (logit[:, 2] - logit[:, 3])
    assert np.quantile(more, 0.05) > 0
    assert more.mean() < 0.9  # what one bowler's blocks show is drawn towards that of all


def test_a_ball_that_fades_over_the_games_is_distinguished_from_others_of_its_class():
    cells = made_cells(np.random.default_rng(6), fading={"b0-1": -0.4})
    fit = fit_worth_cells(cells, balance(), listed(cells))
    grid = pd.concat([_grid(bowler=b, ball=f"{b}-1", game=game) for b in ("b0", "b1") for game in (1, 5)])
    logit = fit.logit_draws(grid, 1000, np.random.default_rng(7))
    faded, other = logit[:, 1] - logit[:, 0], logit[:, 3] - logit[:, 2]
    assert np.mean(faded < other) > 0.9
    assert np.mean(faded < 0) > 0.95


def test_wear_of_the_surface_is_found_and_a_ball_is_priced_as_worn_as_it_was_on_average():
    rng = np.random.default_rng(16)
    cells = made_cells(rng)
    cells = cells.assign(worn=rng.normal(0, 1, len(cells)))
    cells["strikes"] = rng.binomial(cells["shots"], 1 / (1 + np.exp(0.2 + 0.25 * cells["worn"])))
    fit = fit_worth_cells(cells, balance(), listed(cells))
    usual, worn = (fit.logit_draws(grid, 500, rng)[:, 0] for grid in (_grid(), _grid(worn=2.0)))
    lost = (usual - worn) / 2
    assert abs(lost.mean() - 0.25) < 3 * lost.std() < 0.15
    ball = cells[cells["ball"] == _grid()["ball"][0]]
    mean = np.average(ball["worn"], weights=ball["shots"])
    assert fit.logit_draws(_grid(worn=mean), 500, rng)[:, 0] == pytest.approx(usual)


def test_balls_apart_by_nothing_but_wear_are_priced_apart_by_it():
    # Were wear taken from each ball's own mean, nothing known of it would set these balls apart.
    rng = np.random.default_rng(17)
    cells = made_cells(rng)
    balls = sorted(cells["ball"].unique())
    own = cells["ball"].map({ball: 1.5 if k % 2 else -1.5 for k, ball in enumerate(balls)})
    cells = cells.assign(worn=own + rng.normal(0, 0.5, len(cells)))
    cells["strikes"] = rng.binomial(cells["shots"], 1 / (1 + np.exp(0.2 + 0.2 * cells["worn"])))
    fit = fit_worth_cells(cells, balance(), listed(cells))
    grid = pd.concat([_grid(ball=ball) for ball in balls[:2]])
    fresh, worn = fit.logit_draws(grid, 500, rng).T
    assert np.mean(fresh > worn) > 0.95
    new = fit.logit_draws(_grid(ball="new"), 2000, rng)[:, 0]
    at_mean = fit.logit_draws(_grid(ball="new", worn=0.0), 2000, rng)[:, 0]
    assert new == pytest.approx(at_mean)


def test_wear_is_counted_in_tens_from_the_mean_over_all_shots(season):
    cells = worth_cells(season)
    known = cells[cells["worn"] != 0]
    assert np.average(known["worn"], weights=known["shots"]) == pytest.approx(0, abs=1e-6)
    ages = season.frame("cells/ball_age_cells", usual=season.settings.costs.resurface_every_games)
    tens = (ages["games_since_resurface"] * ages["shots"]).groupby([ages["ball"], ages["block"]]).sum() / 10
    tens /= ages.groupby(["ball", "block"])["shots"].sum()
    result = cells.drop_duplicates(["ball", "block"]).set_index(["ball", "block"])["worn"].reindex(tens.index)
    # Between blocks of one ball the two differ by rounding within a block alone: less than a game.
    apart = (result - tens).groupby("ball").transform(lambda gap: gap - gap.mean())
    assert apart.abs().max() < 0.1 and tens.groupby("ball").std().mean() > 0.3


def test_a_class_never_thrown_on_long_oil_is_predicted_by_grip_on_the_rest():
    """Where grip pays by the foot, a solid thrown on short and medium oil alone is expected to gain on long oil too, as
    the made seasons have it: 0.9 logits between classes 1.85 sds of grip apart, from 34 to 45 feet."""
    rng, gained = np.random.default_rng(18), []
    for _ in range(12):
        cells = made_cells(rng, blocks=36)
        rank = cells["ball_class"].map({"urethane": 1.5, "symmetric solid": 4.0, "asymmetric pearl": 2.75})
        pays = (rank - 2.75) / 1.02 * (cells["length_ft"] - 40) / 4.6
        cells["strikes"] = rng.binomial(cells["shots"], 1 / (1 + np.exp(0.2 - 0.15 * pays)))
        cells = cells[(cells["ball_class"] != "symmetric solid") | (cells["pattern_class"] != "long")]
        fit = fit_worth_cells(cells, balance(), listed(cells))
        grid = pd.concat([_grid(ball=f"b0-{k}", pattern_class=p) for k in (1, 0) for p in ("long", "short")])
        logit = fit.logit_draws(grid, 500, rng)
        gained.append((logit[:, 0] - logit[:, 1] - logit[:, 2] + logit[:, 3]).mean())
    assert np.mean(gained) == pytest.approx(0.9, abs=0.3)


def test_two_calls_share_their_draws(made):
    rng = np.random.default_rng(4)
    both = made.strike_draws(pd.concat([_grid(), _grid(ball="never thrown")]), 300, rng)
    again = made.strike_draws(_grid(ball="never thrown"), 300, rng)
    assert both[:, 1] == pytest.approx(again[:, 0], abs=1e-12)


def test_what_was_never_logged_is_less_sure(made):
    known, ball, bowler, both = (
        made.logit_draws(grid, 2000, np.random.default_rng(5)).std()
        for grid in (_grid(), _grid(ball="new"), _grid(bowler="new"), _grid(ball="new", bowler="new"))
    )
    assert known < ball < both
    assert known < bowler < both


def test_a_pattern_beyond_those_logged_widens_with_the_distance(made):
    widths = [
        made.logit_draws(_grid(length_ft=length), 3000, np.random.default_rng(6)).std() for length in (40, 48, 52, 56)
    ]
    assert widths == sorted(widths)
    assert widths[-1] > 1.5 * widths[0]


def test_a_missing_line_is_a_level_of_its_own_and_is_noted():
    cells = made_cells(np.random.default_rng(7), line_missing=0.3)
    fit = fit_worth_cells(cells, balance(), listed(cells))
    assert fit.shots == cells["shots"].sum()
    missing = cells.loc[cells["line"] == "line not logged", "shots"].sum() / cells["shots"].sum()
    assert [note.share for note in fit.notes if note.kind == "no_arrow_board"] == [pytest.approx(missing)]
    none, named = (
        fit.logit_draws(_grid(line=line), 200, np.random.default_rng(8)) for line in (None, "line not logged")
    )
    assert np.array_equal(none, named)


@pytest.mark.parametrize("blocks", [1, 3])
def test_one_bowler_with_few_blocks_gives_sane_answers(blocks):
    cells = made_cells(np.random.default_rng(9), bowlers=1, blocks=blocks, balls=1)
    fit = fit_worth_cells(cells, balance(1).assign(speed_mph=np.nan, rev_rpm=np.nan), listed(cells))
    draws = fit.strike_draws(_grid(), 500, np.random.default_rng(10))
    assert np.isfinite(draws).all()
    assert 0.2 < draws.mean() < 0.8


def test_all_strikes_do_not_send_the_odds_to_infinity():
    cells = made_cells(np.random.default_rng(11), bowlers=2, blocks=3)
    cells["strikes"] = cells["shots"].where(cells["ball"] == "b0-0", 0)
    draws = fit_worth_cells(cells, balance(2), listed(cells)).strike_draws(_grid(), 500, np.random.default_rng(12))
    assert 0.6 < draws.mean() < 0.999


def test_the_entry_curve_peaks_in_the_pocket_and_keeps_shots_without_a_board(season):
    entry = fit_entry(season)
    every, logged = season.connection.execute("SELECT count(*), count(entry_board) FROM first_balls").fetchone()
    assert (entry.shots, entry.logged) == (every, pytest.approx(logged / every))
    assert {note.kind for note in entry.notes} == {"some_entry_boards"}
    boards = np.arange(entry.boards[0], entry.boards[1] + 0.25, 0.5)
    means = entry.entry_draws(boards, None, 200, np.random.default_rng(13)).mean(axis=0)
    # the invented world's carry is best at board 17.5 (sample_logs/mechanism.py), as coaching articles have it
    assert abs(boards[means.argmax()] - 17.5) <= 0.5


def test_without_any_entry_board_the_entry_model_says_so(simulated):
    bare = {
        name: frame.assign(entry_board=np.nan) if name.startswith("shots") else frame
        for name, frame in simulated.frames.items()
    }
    with open_simulated(SimulatedSeason(bare, simulated.racks, simulated.truth), Settings()) as opened:
        entry = fit_entry(opened)
    assert entry.logged == 0
    assert np.isnan(entry.boards).all()
    assert entry.notes == [Note("no_entry_board")]


def test_sds_learned_from_some_bowlers_leave_the_estimates_nearly_as_they_were(made, monkeypatch):
    monkeypatch.setattr("pipeline.inference.mixed_logit.named_effects._MANY_CELLS", 700)
    cells = made_cells(np.random.default_rng(1), planted={("b0", "short", "b0-1"): 1.3})
    assert len(cells) > 700
    fit = fit_worth_cells(cells, balance(), listed(cells))
    grid = pd.concat([_grid(), _grid(ball="b0-1"), _grid(bowler="b2", ball="b2-1")])
    rng = np.random.default_rng(15)
    some, every = (model.strike_draws(grid, 1000, rng).mean(axis=0) for model in (fit, made))
    assert some == pytest.approx(every, abs=0.06)


def test_classes_alike_on_every_pattern_and_in_every_game_are_taken_to_be_so():
    """Drawn without such effects; prior scales four and three times as wide leave sds of 0.04 and 0.05."""
    cells = made_cells(np.random.default_rng(26))
    posterior, _ = fit_worth_cells(cells, balance(), listed(cells)).model.draws(1000, np.random.default_rng(1))
    assert posterior.sd["ball_class:pattern_class"].mean() < 0.036
    assert posterior.sd["ball_class:game_1"].mean() < 0.037
