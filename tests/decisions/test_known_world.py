"""Arsenal, ladder and ball changes in a simulated season of the invented club, whose truth is known.

That world is not of the models' own form: strikes come about through where the ball enters, and bowlers change ball and
line because they are struggling.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.arsenal.strength_ladder import strength_ladder
from pipeline.decisions.arsenal.verdicts import arsenal
from pipeline.decisions.records import BallChange, BallVerdict, LadderRung
from pipeline.decisions.transition.ball_changes import ball_changes
from pipeline.models.fits import fit_all
from pipeline.models.fitted import Fitted
from pipeline.settings import Evidence, Settings
from sample_logs.generate import SimulatedSeason, simulate_season
from tests.recovery.in_memory import open_simulated

Judged = tuple[SimulatedSeason, list[BallVerdict], list[LadderRung], list[BallChange], pd.DataFrame]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def judged() -> Iterator[Judged]:
    settings = Settings(evidence=Evidence(draws=400))
    simulated = simulate_season(2)
    with open_simulated(simulated, settings) as season:
        fits = fit_all(season, settings)
        rows = season.frame("cells/ball_changes")
        yield (
            simulated,
            arsenal(Fitted(season, fits)),
            strength_ladder(Fitted(season, fits)),
            ball_changes(Fitted(season, fits))[0],
            rows,
        )


def test_wear_intervals_cover_what_each_ball_truly_loses(judged: Judged) -> None:
    simulated, verdicts, *_ = judged
    true = -simulated.truth.wear_loss().set_index("ball")["pins_per_10_games"]
    inside = [v.loss_per_10_games.lo95 < true[v.ball] < v.loss_per_10_games.hi95 for v in verdicts]
    # All balls share the common loss, so this is nearer to one yes or no than to fifty: only gross misses fail.
    assert np.mean(inside) > 0.8
    assert np.mean([v.loss_per_10_games.mean for v in verdicts]) > 0


def test_advice_to_resurface_pays(judged: Judged) -> None:
    simulated, verdicts, *_ = judged
    true = -simulated.truth.wear_loss().set_index("ball")["pins_per_10_games"]
    cost = Settings().costs.resurface
    advised = [true[v.ball] * v.games_since_resurface / 10 - cost for v in verdicts if v.verdict == "resurface"]
    assert len(advised) >= 5
    assert np.mean(np.array(advised) > 0) > 0.75


def test_the_ladder_follows_the_true_strength(judged: Judged) -> None:
    simulated, _, rungs, *_ = judged
    world = simulated.truth.world
    table = pd.DataFrame([rung.model_dump(include={"bowler", "ball", "rank"}) for rung in rungs])
    table["strength"] = world.strength[world.ball_number(table["ball"])]
    agree = [np.corrcoef(group["strength"], -group["rank"])[0, 1] for _, group in table.groupby("bowler")]
    # Six of the seven log boards; a bag in which most balls were thrown little may be told apart badly.
    assert len(agree) == 6 and np.median(agree) > 0.8


def test_the_gain_of_a_change_covers_its_truth(judged: Judged) -> None:
    simulated, _, _, ledger, rows = judged
    rows = rows[rows["game"] == rows["last_game"]].reset_index(drop=True)  # one game ahead: no averaging to redo here
    grids = []
    for ball, line in (("from_ball", "from_line"), ("from_ball", "to_line"), ("to_ball", "to_line")):
        same = rows[["bowler", "pattern_class", "game", "length_ft", "volume_ml", "ratio"]]
        grids.append(same.assign(ball=rows[ball], line=rows[line].astype(object)))
    old, elsewhere, new = (simulated.truth.true_pins(grid) for grid in grids)
    entries = {(c.bowler, c.block, c.game, c.from_ball, c.to_ball): c for c in ledger}
    keys = rows[["bowler", "block", "game", "from_ball", "to_ball"]].itertuples(index=False, name=None)
    inside = []
    for at, key in enumerate(keys):
        gain = entries[key].gain
        # The ledger stays on whichever of the two lines looks better; the truth may lie with either.
        inside.append(any(gain.lo95 < new[at] - stay < gain.hi95 for stay in (old[at], elsewhere[at])))
    assert len(inside) > 50 and np.mean(inside) > 0.85
