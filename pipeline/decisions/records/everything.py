"""Everything one season answers, in one record: what a report reads and an export writes."""

from __future__ import annotations

from pydantic import Field

from pipeline.decisions.records.advice import ComboWorth, NextShots, PhaseAdvice, PracticeSession
from pipeline.decisions.records.arsenal import ArsenalGap, ArsenalTask, BallVerdict, LadderRung, RedundantPair
from pipeline.decisions.records.base import Record
from pipeline.decisions.records.checks import CalibrationBin, HeldOutGain, ModelCheck, Sensitivity
from pipeline.decisions.records.last_season import SeasonBeside
from pipeline.decisions.records.leaves_and_entry import EntryPoint, LeaveShare
from pipeline.decisions.records.ledger import BlockLedger, CostlyHabit, LedgerAccount
from pipeline.decisions.records.plan import BlockPlan
from pipeline.decisions.records.rules_of_thumb import MaximTrial
from pipeline.decisions.records.season import LeftOut, SeasonSummary
from pipeline.decisions.records.students import PracticeFocus, SkillComparison, SkillEstimate
from pipeline.decisions.records.transition import (
    BallChange,
    ChangesInAll,
    Crossing,
    LanePath,
    Lead,
    LineMove,
    TransitionCurve,
)


class Decisions(Record):
    """Everything one season answers."""

    title: str
    summary: SeasonSummary
    left_out: list[LeftOut]
    combos: list[ComboWorth]
    playbook: list[PhaseAdvice]
    leads: list[Lead]
    curves: list[TransitionCurve]
    crossings: list[Crossing]
    line_moves: list[LineMove]
    paths: list[LanePath] = Field(default_factory=list)
    arsenal: list[BallVerdict]
    arsenal_tasks: list[ArsenalTask] = Field(default_factory=list)
    redundant: list[RedundantPair]
    gaps: list[ArsenalGap]
    ladder: list[LadderRung]
    changes: list[BallChange]
    changes_in_all: list[ChangesInAll]
    skills: list[SkillEstimate]
    comparisons: list[SkillComparison]
    focus: list[PracticeFocus]
    season_beside: list[SeasonBeside] = Field(default_factory=list)
    ledger: list[LedgerAccount]
    ledger_blocks: list[BlockLedger]
    habits: list[CostlyHabit]
    maxims: list[MaximTrial]
    plans: list[BlockPlan]
    next_shots: list[NextShots]
    practice: list[PracticeSession] = Field(default_factory=list)
    leaves: list[LeaveShare]
    entry: list[EntryPoint]
    calibration: list[CalibrationBin]
    checks: list[ModelCheck]
    sensitivity: list[Sensitivity]
    held_out: list[HeldOutGain] = Field(default_factory=list)
