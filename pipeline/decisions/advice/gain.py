"""What the best choice of a cell gains over what the bowler threw there: their own mix of balls and lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.decisions.candidates import Candidates, Cell
from pipeline.decisions.estimates import estimate
from pipeline.decisions.records import ComboWorth, GainOverNow
from pipeline.decisions.season.summary import game_scores
from pipeline.decisions.wording.terms import in_phase, on_pattern, pins_a_game, plural, sentence, with_ball
from pipeline.settings import BlockPhases
from pipeline.store.season import Season


def games_by_cell(season: Season) -> dict[Cell, int]:
    """Games logged by bowler, pattern class and phase."""
    counts = game_scores(season).groupby(["bowler", "pattern_class", "phase"], as_index=False).size()
    cells = zip(counts["bowler"], counts["pattern_class"], counts["phase"], strict=True)
    return {(str(b), str(c), str(p)): int(n) for (b, c, p), n in zip(cells, counts["size"], strict=True)}


def gain_over_now(
    found: Candidates, key: Cell, best: ComboWorth, at: int, games: int, phases: BlockPhases
) -> GainOverNow:
    """The gain of choice ``at``, which is ``best``, over the bowler's own mix of a cell, draw by draw.

    Both are priced at the phase's mean game and oil. The mix is every ball and line thrown in the cell, weighted by
    first deliveries, so what is already thrown of the best choice gains nothing.
    """
    places = found.places[key]
    shots = np.array([found.records[i]["shots"] for i in places], dtype=float)
    share = shots / shots.sum()
    gain: NDArray[np.float64] = found.priced.pins[:, at] - found.priced.pins[:, places] @ share
    own = float(share[list(places).index(at)])
    others = [(weight, i) for weight, i in zip(share, places, strict=True) if i != at and weight > 0]
    most = found.records[max(others)[1]] if others else None
    value = estimate(gain)
    return GainOverNow(
        gain=value,
        p_gain=float((gain > 0).mean()),
        share_now=own,
        games=games,
        pins_a_season=value.mean * games,
        instead_of_ball=None if most is None else str(most["ball"]),
        instead_of_line=None if most is None else str(most["line"]),
        sentence=_sentence(key, best, most, own, value.mean, games, phases),
    )


def _sentence(
    key: Cell,
    best: ComboWorth,
    most: dict[str, object] | None,
    own: float,
    gain: float,
    games: int,
    phases: BlockPhases,
) -> str:
    place = sentence(f"{on_pattern(key[1])} {in_phase(key[2], phases)}")
    choice = with_ball(best.ball_name, best.line)
    if most is None:
        return f"{place}: {choice} is all you throw there."
    if own >= 0.5:
        act = f"throw {choice} still more often"
    else:
        act = f"throw {choice} instead of {with_ball(str(most['ball_name']), str(most['line']))}"
    return f"{place}: {act}: {pins_a_game(gain, 1)} over what you throw there now, in {plural(games, 'game')} logged."
