"""Arsenal verdicts against known truths, and the bag's gaps and twins."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit

from pipeline.decisions.arsenal.overlap import SAME_JOB_PINS, gaps, redundant_pairs
from pipeline.decisions.arsenal.verdict_rules import ACTIONS, choose
from pipeline.decisions.arsenal.verdicts import arsenal, utilities
from pipeline.decisions.candidates import Candidates, candidates
from pipeline.decisions.wording.cautions import BALL_CARE, HEAT, LIMITS_OF_EVIDENCE, RULES, SANDING, SOLVENTS
from pipeline.inference.sample_size import MOST_SHOTS
from pipeline.models.balls.ball_wear import AgeingFit, fit_ageing_cells
from pipeline.models.fits import Fits, fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Costs, Evidence, Settings
from pipeline.store.season import Season, prepare
from tests.decisions.aged_cells import aged_cells
from tests.decisions.drawn_choices import drawn, fits_with
from tests.decisions.made_season import MadeBall, MadeSeason, make

# Ten times the exact mean frame gives about 11 pins for each tenth of strike probability at club level; the utilities
# scale with it, so any fixed price serves to test them.
PINS = 110.0
FEW = Settings(evidence=Evidence(draws=300))


def _fitted(plan: MadeSeason, settings: Settings = FEW) -> tuple[Season, Fits]:
    season = make(plan, settings)
    return season, fit_all(season, settings)


def _one(wear: float, ball: float = 0.0, n: int = 50) -> AgeingFit:
    """A fit whose draws are all alike."""
    same = np.ones((n, 1))
    return AgeingFit(("aa",), 0.0 * same, 0.0 * same, ball * same, wear * same, wear * same[:, 0], 0.0 * same[:, 0],
                     0.0 * same[:, 0], np.zeros((n, 0)), {})  # fmt: skip


def test_utilities_are_the_mean_carry_over_the_games_ahead_less_the_cost() -> None:
    wear, since, costs = -0.1, 40.0, Costs(games_ahead=60)
    worth = utilities(_one(wear), "aa", (since, since, since), np.zeros(50), np.full(50, PINS), Settings(costs=costs))
    ages = np.linspace(0, 60, 6001)

    def mean_carry(start: float) -> float:
        return float(np.trapezoid(expit(wear * (start + ages) / 10), ages) / 60)

    today = expit(wear * since / 10)
    keep = PINS * (mean_carry(since) - today)
    fresh = PINS * (mean_carry(0) - today)
    assert worth[0] == pytest.approx(
        [keep, keep - costs.clean, fresh - costs.resurface, fresh - costs.retire], abs=0.01
    )


def test_a_surface_better_than_most_is_given_up_by_resurfacing() -> None:
    plain = utilities(_one(-0.05), "aa", (30, 30, 30), np.zeros(50), np.full(50, PINS), Settings())
    good = utilities(_one(-0.05), "aa", (30, 30, 30), np.full(50, 0.4), np.full(50, PINS), Settings())
    keep, resurface = ACTIONS.index("keep"), ACTIONS.index("resurface")
    assert (plain[0, resurface] - plain[0, keep]) - (good[0, resurface] - good[0, keep]) > 5


@pytest.mark.parametrize(
    ("wear", "ball", "since", "verdict"),
    [(-0.15, 0.0, 50.0, "resurface"), (0.0, 0.0, 50.0, "keep"), (-0.02, -0.6, 10.0, "retire")],
)
def test_the_verdict_of_a_known_ball(wear: float, ball: float, since: float, verdict: str) -> None:
    fit = _one(wear, ball)
    worth = utilities(fit, "aa", (since, since, since), np.zeros(50), np.full(50, PINS), Settings())
    assert choose(worth, np.full(50, 0.5), 500, Settings()) == (verdict, 1.0, 0)


def test_a_verdict_is_withheld_where_the_shots_do_not_carry_it() -> None:
    rng = np.random.default_rng(1)
    now = rng.normal(0.5, 0.03, 2000)
    clear = rng.normal([0, -1, 6, 1], 0.5, (2000, 4))
    assert choose(clear, now, 500, Settings())[0] == "resurface"
    assert choose(clear, now, 5, Settings())[::2] == ("not enough shots", 15)  # min_shots is 20
    open_question = rng.normal([0, -1, 1, -1], 6, (2000, 4))
    verdict, probability, needed = choose(open_question, now, 100, Settings())
    assert verdict == "watch" and probability < 0.5
    assert needed == MOST_SHOTS  # nothing here goes with how the ball carries now, so its shots cannot tell
    # Probably better, and cheap to get wrong: that alone is no verdict.
    leaning = rng.normal([0, -0.3, 0.2, -4], [0, 0.3, 0.4, 0.3], (2000, 4))
    assert choose(leaning, now, 100, Settings())[0] == "watch"


def test_an_act_is_called_from_the_settings_probability_that_it_gains() -> None:
    rng, now = np.random.default_rng(4), np.full(40_000, 0.5)
    # P(N(m, 1) > 0) is 0.79 at m = 0.806 and 0.81 at m = 0.878 (tables of the normal distribution).
    unsure, sure = (
        np.column_stack([np.zeros(40_000), np.full(40_000, -9.0), rng.normal(m, 1, 40_000), np.full(40_000, -9.0)])
        for m in (0.806, 0.878)
    )
    assert choose(unsure, now, 100, Settings())[0] == "watch"
    assert choose(sure, now, 100, Settings())[0] == "resurface"
    strict = Settings(evidence=Evidence(best_probability=0.95))
    assert choose(sure, now, 100, strict)[0] == "watch"
    # P(N(1.4, 1) > 0) is 0.92: under 0.95, but the 80 % interval leaves zero out.
    clear = np.column_stack([unsure[:, :2], rng.normal(1.4, 1, 40_000), unsure[:, 3]])
    assert choose(clear, now, 100, strict)[0] == "resurface"
    for_good = sure[:, [0, 1, 3, 2]]  # the same as a retirement, which the probability alone does not carry
    assert choose(for_good, now, 100, Settings())[0] == "watch"
    assert choose(clear[:, [0, 1, 3, 2]], now, 100, Settings())[0] == "retire"


def test_shots_with_the_ball_as_it_is_settle_what_goes_with_its_carry() -> None:
    rng = np.random.default_rng(2)
    now = rng.normal(0.5, 0.05, 4000)
    # Resurfaced it carries 0.5 for sure: what is open is how it carries now.
    worth = np.column_stack([np.zeros(4000), np.full(4000, -1.0), PINS * (0.51 - now), np.full(4000, -9.0)])
    verdict, _, needed = choose(worth, now, 100, Settings())
    assert verdict == "watch" and 20 <= needed < 400
    assert choose(worth, rng.permutation(now), 100, Settings())[2] == MOST_SHOTS


def test_verdicts_are_right_as_often_as_their_probability_says() -> None:
    said, right = [], []
    settings = Settings()
    for seed in range(8):
        rng = np.random.default_rng(100 + seed)
        made = aged_cells(rng, blocks=25)
        fit = fit_ageing_cells(made.cells, made.states, 500, rng)
        assert fit is not None
        for _, row in made.states.iterrows():
            ages = (row["games_since_resurface"], row["games_since_care"], row["games_total"])
            surface = fit.surface(row["ball"], int(row["surface_number"]))
            worth = utilities(fit, row["ball"], ages, surface, np.full(500, PINS), settings)
            true = utilities(made.truth, row["ball"], ages, np.zeros(1), np.full(1, PINS), settings)[0]
            best = int(worth.mean(axis=0).argmax())
            said.append(float((worth.argmax(axis=1) == best).mean()))
            right.append(int(true.argmax()) == best)
    p = np.array(said)
    # Balls of one season share their common wear, so their errors are not independent: the binomial standard error
    # is doubled before three of it are allowed.
    assert abs(np.mean(right) - p.mean()) < 3 * 2 * np.sqrt((p * (1 - p)).sum()) / len(p)
    bold = p > np.median(p)
    assert np.mean(np.array(right)[bold]) > np.mean(np.array(right)[~bold])


@pytest.mark.parametrize(("wear", "since", "verdict"), [(-0.30, 40, "resurface"), (0.0, 15, "keep")])
def test_a_ball_that_wears_is_resurfaced_and_one_that_does_not_is_kept(wear: float, since: float, verdict: str) -> None:
    chosen = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        made = aged_cells(rng, bowlers=1, blocks=60, wear=np.full(6, wear), ball_sd=0.05, resurface_at=40, sharper=6)
        fit = fit_ageing_cells(made.cells, made.states, 500, rng)
        assert fit is not None
        worth = utilities(fit, "w0-0", (since, since, 70), np.zeros(500), np.full(500, PINS), Settings())
        now = fit.strike("w0-0", since, since, 70)[:, 0]
        chosen.append(choose(worth, now, 200, Settings())[0])
    assert chosen.count(verdict) >= (4 if wear else 3)  # what is not kept is watched
    assert set(chosen) <= {verdict, "watch"}


def test_the_whole_arsenal_of_a_made_season() -> None:
    plan = MadeSeason(
        [
            MadeBall("aa", wear=0.5, benchmark=True),
            MadeBall("bb"),
            MadeBall("cc", cover="pearl"),
            MadeBall("sp", cover="polyester", spare_ball=True),
        ],
        blocks=60,
        games=4,
        level=0.6,
        resurfaced=[(20, "aa"), (40, "aa")],
        cared=[(10, "bb", "clean"), (30, "bb", "oil extraction")],
    )
    season, fits = _fitted(plan)
    by_key = {verdict.ball: verdict for verdict in arsenal(Fitted(season, fits))}
    assert set(by_key) == {"aa", "bb", "cc"}
    aa, bb = by_key["aa"], by_key["bb"]
    assert aa.loss_per_10_games.mean > bb.loss_per_10_games.mean
    assert aa.lost_in_all.mean > bb.lost_in_all.mean and aa.lost_in_all.mean > aa.loss_per_10_games.mean
    assert aa.drift_so_far is not None and aa.drift_per_10_games is not None
    tens = aa.games_since_resurface / 10
    assert aa.drift_so_far.mean == pytest.approx(aa.drift_per_10_games.mean * tens)
    assert aa.verdict in ("resurface", "retire") and aa.at_stake.mean > 0
    assert [act.action for act in aa.care] == ["resurface", "resurface"]
    assert all(act.recovery.mean > 2 for act in aa.care)
    assert [act.action for act in bb.care] == ["oil extraction"]
    assert sum(point.shots for point in aa.curve) == aa.shots
    assert aa.curve[0].carry.mean > aa.curve[-1].carry.mean
    for verdict in by_key.values():
        assert set(verdict.utilities) == set(ACTIONS) and 0 < verdict.probability <= 1
        assert verdict.ball_name in verdict.sentence
        for word in ("sand", "grit", "oven", "solvent", "bake"):
            assert word not in verdict.sentence
    assert arsenal(Fitted(season, fits)) == arsenal(Fitted(season, fits))


@pytest.mark.parametrize(
    "plan",
    [
        MadeSeason([MadeBall("aa")], blocks=4),
        MadeSeason([MadeBall("aa"), MadeBall("bb")], blocks=3, games=1, hands={"ann": "left"}),
        MadeSeason([MadeBall("aa"), MadeBall("bb")], blocks=3, patterns=(None,), boards=False),
    ],
    ids=["one ball", "one-game blocks of a left-hander", "no boards, nothing posted"],
)
def test_small_seasons_get_sane_verdicts(plan: MadeSeason) -> None:
    season, fits = _fitted(plan)
    verdicts = arsenal(Fitted(season, fits))
    assert [verdict.ball for verdict in verdicts] == [ball.ball for ball in plan.balls]
    for verdict in verdicts:
        assert verdict.care == []
        assert (verdict.drift_per_10_games is None) or plan.boards
        if verdict.verdict in ("watch", "not enough shots"):
            assert verdict.shots_needed > 0
    assert isinstance(redundant_pairs(Fitted(season, fits)), list) and isinstance(gaps(Fitted(season, fits)), list)


def test_a_ball_never_thrown_is_not_judged() -> None:
    season = make(MadeSeason([MadeBall("aa"), MadeBall("bb")], blocks=4), FEW)
    season.connection.execute("UPDATE deliveries SET ball = 'aa'")
    season = prepare(season.connection, FEW)
    verdict = next(v for v in arsenal(Fitted(season, fit_all(season, FEW))) if v.ball == "bb")
    assert verdict.verdict == "not enough shots" and verdict.shots == 0 and verdict.shots_needed >= 20


def test_twins_are_redundant_and_a_much_better_ball_is_not() -> None:
    bag = [MadeBall("aa"), MadeBall("bb"), MadeBall("cc", effect=1.2)]
    # a season in which the twins strike alike by luck, too: with another seed they may be told apart or left open
    season, fits = _fitted(MadeSeason(bag, blocks=80, games=4, block_sd=0.05, patterns=(36.0, 41.0), seed=11))
    (pair,) = redundant_pairs(Fitted(season, fits))
    assert (pair.ball_a, pair.ball_b) == ("aa", "bb") and pair.p_same_job > 0.5
    assert pair.apart.lo95 < 0 < pair.apart.hi95
    assert " likely do the same job. " in pair.sentence and " on short and medium patterns with " in pair.sentence


def test_the_closest_pair_is_named_where_no_two_balls_are_alike() -> None:
    bag = [MadeBall("aa", effect=-1.0), MadeBall("bb"), MadeBall("cc", effect=1.5)]
    season, fits = _fitted(MadeSeason(bag, blocks=60, games=4, block_sd=0.05))
    (pair,) = redundant_pairs(Fitted(season, fits))
    assert pair.p_same_job < 0.1 and pair.sentence.startswith("No two balls likely do the same job; ")


def test_the_same_job_is_as_often_so_as_it_is_said() -> None:
    # 400 bowlers of two balls each, their worths and draws of them exact: see drawn_choices.
    made = drawn(cells=400, choices=2, shots=200, sd=8.0, seed=3)
    options = made.fits.cache[candidates.name()]
    each = made.rows.assign(bowler=made.rows["pattern_class"])
    pairs = redundant_pairs(
        Fitted(made.season, fits_with(Candidates(each, options.priced, options.following), Settings(), 400))
    )
    truth = made.truth.reshape(400, 2)
    same = np.abs(truth[:, 0] - truth[:, 1]) < SAME_JOB_PINS
    said = np.array([pair.p_same_job for pair in pairs])
    assert [pair.bowler for pair in pairs] == sorted(each["bowler"].unique())
    for likely in (said < 0.35, said >= 0.35):
        sd = np.sqrt((said[likely] * (1 - said[likely])).sum())
        assert likely.sum() > 50 and abs(same[likely].sum() - said[likely].sum()) < 3.5 * sd
    held = [pair.apart.lo80 <= one - two <= pair.apart.hi80 for pair, (one, two) in zip(pairs, truth, strict=True)]
    assert abs(np.mean(held) - 0.8) < 3.5 * np.sqrt(0.16 / 400)


def test_a_gap_is_a_phase_below_the_bowlers_own_average() -> None:
    # The only ball loses half a logit a game: the end of the block is below the average, its start is not.
    season, fits = _fitted(MadeSeason([MadeBall("aa")], blocks=40, games=6, level=1.2, game_effect={"aa": -0.5}))
    by_key = {gap.phase: gap for gap in gaps(Fitted(season, fits))}
    assert "late" in by_key and "fresh" not in by_key
    assert by_key["late"].best_worth.mean < 0 and by_key["late"].probability > 0.9
    assert by_key["late"].shots > 20


def test_cautions_stand_beside_what_needs_them() -> None:
    assert {SANDING, SOLVENTS, HEAT, RULES, LIMITS_OF_EVIDENCE} == set(BALL_CARE)
    assert "mask" in SANDING and "maker's limits" in HEAT and "rules of the competition" in RULES
