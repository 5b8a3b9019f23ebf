"""The ledger's records on the sample season: they add up, and the ledger file adds up to them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions.alias import alias
from pipeline.decisions.export import ledger_batches
from pipeline.decisions.export.field_notes import LEDGER_FILE
from pipeline.decisions.export.ledger_file import write_ledger
from pipeline.decisions.ledger.accounts import ledger
from pipeline.decisions.ledger.blocks import block_ledgers
from pipeline.decisions.ledger.habits import LEAST, MOST, costly_habits
from pipeline.decisions.records import BlockLedger, CostlyHabit, LedgerAccount
from pipeline.decisions.wording.ledger import block_sentence
from pipeline.decisions.wording.names import Names
from pipeline.models.fits import Fits
from pipeline.models.fitted import Fitted
from pipeline.pricing.ledger.deliveries import open_ledger, valued
from pipeline.store.season import Season
from tests.reports.factory import season as invented
from tests.reports.invented_names import estimate

pytestmark = pytest.mark.slow
Opened = tuple[Season, Fits]


@pytest.fixture(scope="module")
def opened(sample: Opened) -> Opened:
    return sample


@pytest.fixture(scope="module")
def accounts(opened: Opened) -> list[LedgerAccount]:
    return ledger(Fitted(*opened))


@pytest.fixture(scope="module")
def blocks(opened: Opened) -> list[BlockLedger]:
    return block_ledgers(Fitted(*opened))


@pytest.fixture(scope="module")
def habits(opened: Opened) -> list[CostlyHabit]:
    return costly_habits(Fitted(*opened))


def scores(season: Season) -> pd.DataFrame:
    return season.frame("cells/game_scores").dropna(subset=["score"])


def test_accounts_add_up_to_the_average_score(opened: Opened, accounts: list[LedgerAccount]) -> None:
    real = scores(opened[0]).groupby("bowler")["score"].agg(["mean", "size"])
    assert {(a.bowler, a.against) for a in accounts} == {(b, r) for b in real.index for r in ("class", "own usual")}
    for account in accounts:
        assert account.games == real.loc[account.bowler, "size"]
        assert account.scored == pytest.approx(real.loc[account.bowler, "mean"], abs=1e-9)
        total = account.expected.mean + sum(part.pins.mean for part in account.parts)
        assert total == pytest.approx(account.scored, abs=1e-8)


def test_two_bowlers_differ_by_the_sum_of_their_parts(accounts: list[LedgerAccount]) -> None:
    against_class = [a for a in accounts if a.against == "class"]
    assert len({round(a.expected.mean, 9) for a in against_class}) == 1
    first, second = against_class[:2]
    by = [{p.part: p.pins.mean for p in a.parts} for a in (first, second)]
    apart = sum(by[0].get(part, 0.0) - by[1].get(part, 0.0) for part in {*by[0], *by[1]})
    assert apart == pytest.approx(first.scored - second.scored, abs=1e-8)


def test_every_block_adds_up_to_its_scores(opened: Opened, blocks: list[BlockLedger]) -> None:
    real = scores(opened[0]).groupby(["bowler", "block"])["score"].mean()
    assert {(b.bowler, b.block) for b in blocks} == set(real.index)
    for block in blocks:
        assert block.scored == pytest.approx(real[block.bowler, block.block], abs=1e-9)
        assert block.expected + sum(p.pins.mean for p in block.parts) == pytest.approx(block.scored, abs=1e-8)
        assert block.luck.mean == pytest.approx(block.scored - block.level.mean)
        assert 0 <= block.luck_percentile.lo95 <= block.luck_percentile.hi95 <= 1


def test_blocks_add_up_to_the_season(accounts: list[LedgerAccount], blocks: list[BlockLedger]) -> None:
    for account in (a for a in accounts if a.against == "own usual"):
        mine = [b for b in blocks if b.bowler == account.bowler]
        for part in account.parts:
            total = sum(b.games * sum(p.pins.mean for p in b.parts if p.part == part.part) for b in mine)
            assert total / account.games == pytest.approx(part.pins.mean, abs=1e-8)


def test_levels_are_drawn_toward_the_middle_and_follow_the_score(blocks: list[BlockLedger]) -> None:
    apart = np.array([[b.scored - b.expected, b.level.mean - b.expected] for b in blocks])
    assert 0.1 < apart[:, 1].std() / apart[:, 0].std() < 0.8
    assert np.corrcoef(apart.T)[0, 1] > 0.3
    percentile = np.array([b.luck_percentile.mean for b in blocks])
    assert np.corrcoef(percentile, [b.luck.mean for b in blocks])[0, 1] > 0.9


def test_what_is_known_for_sure_has_no_spread(accounts: list[LedgerAccount]) -> None:
    for part in (p for a in accounts for p in a.parts):
        if part.part in {"order", "foul"}:
            assert part.pins.hi95 - part.pins.lo95 < 0.1
        if part.part in {"carry", "spare"}:
            assert part.pins.hi95 - part.pins.lo95 > 0.5


def test_habits_likely_cost_and_come_costliest_first(habits: list[CostlyHabit]) -> None:
    assert habits
    for bowler in {h.bowler for h in habits}:
        mine = [h for h in habits if h.bowler == bowler]
        assert len(mine) <= MOST
        assert [h.pins.mean for h in mine] == sorted(h.pins.mean for h in mine)
    assert all(h.pins.mean <= -LEAST and h.probability >= 0.8 and h.shots >= 20 for h in habits)


def test_the_file_adds_up_to_the_records(opened: Opened, accounts: list[LedgerAccount], tmp_path: Path) -> None:
    book = open_ledger(Fitted(*opened))
    rows = pd.read_csv(write_ledger(book, tmp_path / "ledger.csv"), low_memory=False)
    assert rows.columns.tolist() == list(LEDGER_FILE)
    again = json.loads(write_ledger(book, tmp_path / "ledger.json").read_text(encoding="utf-8"))
    assert len(again) == len(rows) > 100_000
    assert sum(row["pins"] for row in again) == pytest.approx(rows["pins"].sum())
    whole = rows[rows["complete"]].groupby(["against", "bowler", "part"])["pins"].sum()
    for account in accounts:
        for part in account.parts:
            total = whole.get((account.against, account.bowler, part.part), 0.0)
            assert total / account.games == pytest.approx(part.pins.mean, abs=1e-6)


def test_rows_kept_make_the_same_file(opened: Opened, accounts: list[LedgerAccount], tmp_path: Path) -> None:
    fitted = Fitted(*opened)
    made = write_ledger(open_ledger(fitted), tmp_path / "made.csv").read_bytes()
    assert opened[1].shelf is not None  # so that the rows are packed and read back
    assert write_ledger(valued(fitted), tmp_path / "kept.csv").read_bytes() == made


def test_batches_of_bowlers_make_the_same_file(opened: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fitted = Fitted(*opened)
    whole = write_ledger(open_ledger(fitted), tmp_path / "whole.csv").read_bytes()
    monkeypatch.setattr(ledger_batches, "BOWLERS_AT_ONCE", 3)
    connections = len(fitted.season.others)
    batches = ledger_batches.in_batches(fitted, sorted(fitted.fits.mix.shots), lambda _text, _share: None)
    assert write_ledger(batches, tmp_path / "batches.csv").read_bytes() == whole
    assert len(fitted.season.others) == connections  # so that what a batch holds is let go of


def test_an_aliased_file_names_nobody(opened: Opened, tmp_path: Path) -> None:
    season, fits = opened
    real = {
        *season.table("bowlers")["bowler"],
        *season.table("balls")["ball"],
        *season.table("blocks")["block"],
    }
    key = alias(invented(), Names(), "salt")[1].iloc[:0]
    rows = pd.read_csv(write_ledger(open_ledger(Fitted(season, fits)), tmp_path / "l.csv", key), low_memory=False)
    assert not real & {*rows["bowler"], *rows["ball"], *rows["block"]}


def test_a_sentence_adds_up_as_it_stands() -> None:
    parts = [part for part in invented().ledger_blocks[0].parts]
    expected = 190.4
    scored = expected + sum(part.pins.mean for part in parts)
    text = block_sentence(scored, expected, parts, estimate(scored, 3.0), 0.5)
    result = text.split(": ")[1].split(". ")[0].split(", ")
    over = int(text.split(", ")[1].split()[0]) * (1 if " over " in text else -1)
    assert sum(int(piece.split()[0]) for piece in result) == over
