"""Simulated worlds, one mechanism per file, to judge the models in; nothing in the pipeline knows them."""

from __future__ import annotations

from collections.abc import Callable

from tests.recovery.worlds.ball_numbers import ball_numbers
from tests.recovery.worlds.breaking_lanes import breaking_lanes
from tests.recovery.worlds.hidden_demand import hidden_demand
from tests.recovery.worlds.oil_paths import oil_paths
from tests.recovery.worlds.season import WorldSeason
from tests.recovery.worlds.shared_lane import shared_lane, shared_lane_strong

WORLDS: dict[str, Callable[[int], WorldSeason]] = {
    "shared_lane": shared_lane,
    "shared_lane_strong": shared_lane_strong,
    "ball_numbers": ball_numbers,
    "oil_paths": oil_paths,
    "hidden_demand": hidden_demand,
    "breaking_lanes": breaking_lanes,
}
"""Name -> season of a seed."""
