"""Make a season of the invented club as the CSV files its bowlers would have kept.

``python -m sample_logs.generate`` rewrites the CSVs and truth.json beside this file.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from sample_logs.logbook import shots_frame, spoil
from sample_logs.play import Play, Played, Slot
from sample_logs.truth import Truth, make_truth
from sample_logs.world import CENTRE, World, make_world

HERE = Path(__file__).parent
SAMPLE_SEED = 20250904
BLOCKS = 44
FIRST_DAY = dt.date(2025, 9, 4)
MISTAKES = 25


@dataclass(frozen=True)
class SimulatedSeason:
    """``frames`` are named as the CSV files are (without ``.csv``) and hold what was logged; ``truth`` what was not.

    ``racks`` has one row a delivery of ``shots`` as it was without mistakes: facing, standing (pins as bits, by the
    rules) and first_ball (thrown at a newly set rack).
    """

    frames: dict[str, pd.DataFrame]
    racks: pd.DataFrame
    truth: Truth

    @property
    def shots(self) -> pd.DataFrame:
        """All logged deliveries in one frame."""
        return pd.concat([frame for name, frame in self.frames.items() if name.startswith("shots")], ignore_index=True)


def simulate_season(seed: int, scale: int = 1, blocks: int = BLOCKS, mistakes: int = 0) -> SimulatedSeason:
    """Simulate one season.

    Args:
        seed: of every random draw; the same seed gives the same season.
        scale: how many such clubs of seven bowlers play the calendar side by side; blocks and deliveries grow with it.
        blocks: blocks in each club's calendar.
        mistakes: how many logging mistakes to leave in the shot files (for all clubs together).
    """
    rng = np.random.default_rng(seed)
    world = make_world(rng, scale)
    slots = calendar(rng, blocks)
    played = Play(world, rng, scale).run(slots)
    return assemble(rng, world, slots, played, make_truth(world, slots, played), scale, mistakes)


def assemble(
    rng: np.random.Generator,
    world: World,
    slots: list[Slot],
    played: Played,
    truth: Truth,
    scale: int = 1,
    mistakes: int = 0,
) -> SimulatedSeason:
    """Write down a season that was played."""
    shots, racks = shots_frame(rng, world, slots, played.deliveries)
    if mistakes:
        shots = spoil(rng, shots, mistakes)
    frames = {
        "bowlers": world.bowlers,
        "balls": world.balls,
        "patterns": world.patterns,
        "blocks": _blocks_frame(world.patterns, slots, scale),
        "maintenance": _maintenance_frame(world.balls, played.maintenance),
    }
    quarter = pd.PeriodIndex(pd.to_datetime(shots["date"]), freq="Q").astype(str).str.lower()
    for name in sorted(set(quarter)):
        frames[f"shots_{name}"] = shots[quarter == name].reset_index(drop=True)
    return SimulatedSeason(frames, racks, truth)


def _maintenance_frame(balls: pd.DataFrame, care: pd.DataFrame) -> pd.DataFrame:
    number = care["ball"].to_numpy(dtype=int)
    grit = pd.Series(balls["surface_grit"].to_numpy()[number]).astype("Int64")
    rows = pd.DataFrame(
        {
            "date": care["date"],
            "ball": balls["ball"].to_numpy()[number],
            "action": care["action"],
            "grit": grit.where(care["action"] == "resurface"),
            "note": "",
        }
    )
    return rows.sort_values(["date", "ball"], ignore_index=True)


def write_season(season: SimulatedSeason, folder: Path) -> None:
    """Write one CSV a frame and truth.json into ``folder``, which is made where it is missing."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("shots_*.csv"):
        old.unlink()
    for name, frame in season.frames.items():
        written = frame.copy()
        for column in written.select_dtypes("bool").columns:
            written[column] = np.where(written[column], "yes", "no")
        written.to_csv(folder / f"{name}.csv", index=False)
    (folder / "truth.json").write_text(json.dumps(season.truth.as_json(), indent=1) + "\n", encoding="utf-8")


def calendar(rng: np.random.Generator, blocks: int) -> list[Slot]:
    """The season's blocks: Thursday league nights with a Sunday block now and then; patterns in a shuffled round."""
    slots, day = [], FIRST_DAY
    round_ = np.array([], dtype=int)
    for number in range(blocks):
        if len(round_) == 0:
            round_ = rng.permutation(7)
        pattern, round_ = int(round_[0]), round_[1:]
        sunday = number % 4 == 3
        games = int(rng.integers(6, 9)) if sunday else int(rng.integers(4, 7))
        games = 3 if number % 15 == 7 else games
        size = int(rng.integers(3, 6)) if number % 11 else 2
        weights = np.array([1.2, 1.2, 1, 1, 0.8, 0.8, 1]) / 7
        slots.append(
            Slot(
                number=number,
                date=day + dt.timedelta(days=3 if sunday else 0),
                pattern=pattern,
                posted=number != 20,
                games=games,
                places=np.sort(rng.choice(7, size, replace=False, p=weights)),
                moving=bool(sunday or rng.random() < 0.2),
                first_pair=int(rng.integers(0, 12)),
                event="Sunday squad" if sunday else "Thursday league",
            )
        )
        day += dt.timedelta(days=0 if number % 4 == 2 else 7)
    return slots


def _blocks_frame(patterns: pd.DataFrame, slots: list[Slot], clubs: int) -> pd.DataFrame:
    ids = patterns["pattern"].to_numpy()
    return pd.DataFrame(
        [
            {
                "block": block_id(slot.number, club),
                "date": slot.date,
                "pattern": ids[slot.pattern] if slot.posted else "",
                "event": slot.event,
                "centre": CENTRE,
            }
            for club in range(clubs)
            for slot in slots
        ]
    )


def block_id(number: int, club: int) -> str:
    """Id of a block: ``b01``, ``b02``...; the club's number follows from the second club on."""
    return f"b{number + 1:02d}" + ("" if club == 0 else f"-{club + 1}")


def main() -> None:
    """Rewrite the committed sample."""
    season = simulate_season(SAMPLE_SEED, mistakes=MISTAKES)
    write_season(season, HERE)
    print(f"{len(season.shots)} deliveries in {len(season.frames['blocks'])} blocks written to {HERE}")


if __name__ == "__main__":
    main()
