"""The ledger: every delivery's change of the expected final score, split in the order in which things become known.

Under a reference - the class's average bowler, or the bowler's own usual - every state of a game has a value, exact by
``sport/state_values``, and a delivery changes the expected final score by the pins it is credited with and the worth of
the state after it less that before it. Summed over a game these changes are its score less what was expected at its
first ball. A game that is not logged to its end counts up to its last delivery before a gap, with what is then still
expected in place of the rest; one whose first ball is missing has no ledger.

The reference's chances are fixed at posterior means over the season's mix, so a value is a number, not an estimate. The
expectation at each stage in between is an estimate: a posterior mean here, draws in ``sums.py``. Parts are weighted by
how often each bonus is owed at that place in games bowled at the bowler's own usual; the rest, due to the order of the
balls, is the part ``order``, with mean 0 if frames are alike and independent.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.inference.mixed_logit.named_effects import AVERAGE
from pipeline.models.fits import Fits, Unfitted
from pipeline.models.fitted import Fitted, once
from pipeline.pricing.ledger.class_usual import (
    CLASS,
    REFERENCES,
    ClassUsual,
    class_usual,
    means,
    second_pins,
    with_fewer_draws,
)
from pipeline.pricing.ledger.entry_boards import entry_draws
from pipeline.pricing.ledger.stages import FIELDS, Stages, stages_of
from pipeline.pricing.rate_draws import usual_rates
from pipeline.sport.leaves import FULL_RACK, format_leave, pins
from pipeline.sport.state_values import POSITIONS, Chances, averaged, possible_states, state_shares, state_values
from pipeline.store.season import Season
from queries import sql

PARTS = ("lane", "ball", "line", "entry", "carry", "entry_and_carry", "leave", "spare", "foul", "order")
"""Parts of a delivery's change, in the order in which things become known. ``entry_and_carry`` stands for both where no
entry board was logged."""
_VALUES = ("first_times", "second_times", "after_strike", "after_spare", "after_open", "before")
_TEXTS = ("reference", "bowler", "pattern", "ball", "line")
_KEYS = ["pattern", "game", "ball", "line"]
_TABLES = (
    "ledger_base",
    "ledger_states",
    "ledger_positions",
    "ledger_leaves",
    "ledger_stages",
    "ledger_boards_priced",
)


@dataclass(frozen=True)
class Account:
    """The inputs that value one bowler's deliveries under one reference.

    Attributes:
        chances: of the reference, fixed; base: draws (n,) of them.
        stages: chances of the bowler's choices.
        pairs: columns at (place among the choices) and entry_half; boards: draws (n, pairs) of the strike there,
            and board their means (pairs,).
        leaves: pins standing as bits; spares: draws (n, leaves) of the spare, and spare their means (leaves,).
        miss_pins: pins a miss fells (leaves,).
    """

    chances: Chances
    base: Chances
    stages: Stages
    pairs: pd.DataFrame
    boards: np.ndarray
    board: np.ndarray
    leaves: np.ndarray
    spares: np.ndarray
    spare: np.ndarray
    miss_pins: np.ndarray


@dataclass(frozen=True)
class Ledger:
    """A season's ledger; its deliveries are ``valued_deliveries`` of the season's connection.

    ``fits``: the models, with the draws the ledger takes; ``accounts``: (reference, bowler) -> the account that values
    the deliveries; ``entries``: the same -> its counts, as ``sums.entries`` holds them.
    """

    season: Season
    fits: Fits
    accounts: dict[tuple[str, str], Account]
    entries: dict[tuple[str, str], object] = field(default_factory=dict, repr=False, compare=False)
    _asked: dict[str, tuple[pd.DataFrame, dict[tuple[str, ...], pd.DataFrame]]] = field(
        default_factory=dict, repr=False, compare=False
    )

    def rows(self, query: str, **of: str) -> pd.DataFrame:
        """The rows of ``queries/ledger/<query>`` in which these columns hold these texts, without the columns.

        One query for everybody is run and held: a query per bowler takes far longer.
        """
        if query not in self._asked:
            rows = self.season.frame(f"ledger/{query}")
            others = rows.drop(columns=list(of))
            groups = others.groupby([rows[column] for column in of], sort=False)
            held = {tuple(map(str, key)): mine.reset_index(drop=True) for key, mine in groups}
            self._asked[query] = (others.iloc[:0], held)
        none, held = self._asked[query]
        return held.get(tuple(of.values()), none)


@once(stored=False)
def open_ledger(fitted: Fitted) -> Ledger:
    """Value every delivery the season shows."""
    return _open(fitted.season, with_fewer_draws(fitted.fits), class_usual(fitted))


@dataclass(frozen=True)
class ValuedDeliveries:
    """The ``valued_deliveries`` of the season's connection; ``accounts``: reference and bowler of each."""

    season: Season
    accounts: Collection[tuple[str, str]]


def valued(fitted: Fitted) -> ValuedDeliveries:
    """Every delivery the season shows, valued; for a season of usual size, as kept with the fits."""
    season = fitted.season
    if season.large():
        return ValuedDeliveries(season, open_ledger(fitted).accounts)
    rows = _valued_rows(fitted)
    season.fill("kept_valued_rows", rows)
    season.connection.execute(sql("ledger/valued_kept"))
    season.connection.execute(sql("ledger/valued_from_cache"))
    return ValuedDeliveries(season, set(zip(rows["reference"], rows["bowler"], strict=True)))


@once()
def _valued_rows(fitted: Fitted) -> pd.DataFrame:
    return open_ledger(fitted).season.frame("ledger/valued_rows")


def valued_once(fitted: Fitted) -> ValuedDeliveries:
    """The same for reading once: only the values are held, so many bowlers take little memory."""
    season, fits, usual = fitted.season, with_fewer_draws(fitted.fits), class_usual(fitted)
    tables = _Tables()
    accounts = []
    for reference, bowler, account, own in _accounts(season, fits, usual):
        tables.add(reference, bowler, account, own)
        accounts.append((reference, bowler))
    if accounts:
        tables.set_out(season)
    return ValuedDeliveries(season, accounts)


def own_chances(fits: Fits, bowler: str) -> Chances:
    """A bowler's own usual over the season's mix on pairs as worn as is usual, as choices are priced, draws (n,) each.

    Raises:
        ValueError: the bowler has no logged first delivery.
    """
    rates = usual_rates(fits, bowler)
    return Chances(rates.strike, rates.spare, rates.first_pins, second_pins(rates))


def _open(season: Season, fits: Fits, usual: ClassUsual) -> Ledger:
    tables = _Tables()
    accounts = {}
    for reference, bowler, account, own in _accounts(season, fits, usual):
        tables.add(reference, bowler, account, own)
        accounts[reference, bowler] = account
    tables.set_out(season)
    return Ledger(season, fits, accounts)


def _accounts(season: Season, fits: Fits, usual: ClassUsual) -> Iterator[tuple[str, str, Account, Chances]]:
    """Reference, bowler and account of everybody shown, and the bowler's own chances."""
    choices = season.frame("ledger/ledger_choices")
    faced = season.frame("ledger/ledger_leaves")
    boards = season.frame("ledger/entries_met")
    for bowler, mine in choices.groupby("bowler", sort=True):
        if not fits.mix.shots.get(str(bowler)):
            continue  # nothing but fouls
        leaves = faced.loc[faced["bowler"] == bowler, "standing"].to_numpy(dtype=int)
        met = boards[boards["bowler"] == bowler]
        own_usual = means(own_chances(fits, str(bowler)))
        for reference in REFERENCES:
            yield reference, str(bowler), _account(fits, usual, str(bowler), reference, mine, met, leaves), own_usual


def _account(
    fits: Fits,
    usual: ClassUsual,
    bowler: str,
    reference: str,
    choices: pd.DataFrame,
    met: pd.DataFrame,
    leaves: np.ndarray,
) -> Account:
    base = usual.chances if reference == CLASS else own_chances(fits, bowler)
    chances = means(base)
    stages = stages_of(fits, usual, bowler, reference, choices)
    pairs = met.merge(stages.rows.reset_index(names="at"), on=_KEYS)[["at", "entry_half"]]
    seen = bool(len(pairs)) and not isinstance(fits.entry, Unfitted) and fits.entry.logged
    priced = np.empty((len(base.strike), 0))
    if seen:
        priced = entry_draws(fits, usual, bowler, reference, stages, pairs)
    masks = np.unique(leaves[leaves > 0])
    spares, miss = _spares(fits, AVERAGE if reference == CLASS else bowler, chances, masks)
    pairs = pairs if seen else pairs.iloc[:0]
    return Account(chances, base, stages, pairs, priced, priced.mean(axis=0), masks, spares, spares.mean(axis=0), miss)


def _spares(fits: Fits, who: str, chances: Chances, masks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Draws (n, leaves) of the spare at each leave, and the mean pins a miss fells (leaves,).

    A full rack, respotted after a foul, counts as a new one.
    """
    names = [format_leave(int(mask)) for mask in masks]
    draws = fits.conversion.bowler_draws(who, names, fits.n_draws, fits.generator("conversion"))
    left = np.array([fits.conversion.pins_left_on_miss(name) for name in names])
    miss = np.array([len(pins(int(mask))) for mask in masks], dtype=float) - left
    again = masks == FULL_RACK
    draws = np.where(again, chances.strike, draws)
    return draws, np.where(again, chances.first_pins, miss)


class _Tables:
    """The tables that value deliveries, to be made beside the season's own."""

    def __init__(self) -> None:
        self._parts: dict[str, list[pd.DataFrame]] = {}

    def add(self, reference: str, bowler: str, account: Account, own_usual: Chances) -> None:
        """Add the rows of one account; ``own_usual``: the bowler's own chances."""
        for name, rows in _tables(account, own_usual).items():
            self._parts.setdefault(name, []).append(rows.assign(reference=reference, bowler=bowler))

    def set_out(self, season: Season) -> None:
        """Make them, and the view of the deliveries they value."""
        for name in _TABLES:
            rows = pd.concat(self._parts[name], ignore_index=True)
            season.fill(name, rows.astype({column: "string" for column in _TEXTS if column in rows}))
        for query in ("ledger/rack_worth", "ledger/leave_worth", "ledger/valued_deliveries"):
            season.connection.execute(sql(query))
        if not season.large():
            season.connection.execute(sql("ledger/valued_cache"))
            season.connection.execute(sql("ledger/valued_from_cache"))


def _tables(account: Account, own_usual: Chances) -> dict[str, pd.DataFrame]:
    """Rows of every table of one account, without its keys."""
    values = state_values(account.chances)
    position, owed = np.nonzero(possible_states())
    states = {name: getattr(values, name)[position, owed] for name in _VALUES}
    shares = state_shares(own_usual.strike, own_usual.spare)
    means = {name: averaged(getattr(values, name), shares) for name in _VALUES[:-1]}
    stood = np.array([len(pins(int(mask))) for mask in account.leaves], dtype=float)
    table = account.stages.table()
    return {
        "ledger_base": pd.DataFrame({field: [float(getattr(account.chances, field))] for field in FIELDS}),
        "ledger_states": pd.DataFrame({"position": position + 1, "owed": owed, **states}),
        "ledger_positions": pd.DataFrame({"position": np.arange(1, POSITIONS + 1), **means}),
        "ledger_leaves": pd.DataFrame(
            {
                "standing": account.leaves,
                "pins": stood,
                "spare": account.spare,
                "miss_pins": account.miss_pins,
            }
        ),
        "ledger_stages": table,
        "ledger_boards_priced": table[_KEYS]
        .iloc[account.pairs["at"].to_numpy(dtype=int)]
        .reset_index(drop=True)
        .assign(entry_half=account.pairs["entry_half"].to_numpy(dtype=float), strike=account.board),
    }
