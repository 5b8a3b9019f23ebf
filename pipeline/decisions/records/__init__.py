"""What the pipeline decides, as typed records: the only thing reports read and exports write.

Pins are pins per game. ``worth`` is always against the bowler's own average over the season unless a field says
otherwise. Every estimate carries its 50, 80 and 95 % intervals; every ranking its shots and P(best).
"""

from pipeline.decisions.records.advice import (
    ComboWorth,
    GainOverNow,
    NextShots,
    NextStep,
    PhaseAdvice,
    Policy,
    PracticeSession,
    PracticeShots,
    Settledness,
)
from pipeline.decisions.records.arsenal import (
    WITHHELD,
    AgePoint,
    ArsenalGap,
    ArsenalTask,
    BallVerdict,
    CareAct,
    CareEffect,
    CareOption,
    CareVerdict,
    DueBy,
    GritEvidence,
    LadderRung,
    LifePoint,
    RedundantPair,
    StandIn,
)
from pipeline.decisions.records.base import PHASES, Estimate, Phase, Record
from pipeline.decisions.records.checks import CalibrationBin, HeldOutGain, HeldOutVerdict, ModelCheck, Sensitivity
from pipeline.decisions.records.everything import Decisions
from pipeline.decisions.records.last_season import SeasonBeside
from pipeline.decisions.records.leaves_and_entry import EntryPoint, LeaveShare
from pipeline.decisions.records.ledger import (
    BlockLedger,
    CostlyHabit,
    LedgerAccount,
    LedgerAgainst,
    LedgerPart,
    LedgerPartName,
)
from pipeline.decisions.records.plan import Bag, BagBall, BlockPlan, EventPlan, PlanStep
from pipeline.decisions.records.rules_of_thumb import MaximTrial, RuleVerdict
from pipeline.decisions.records.season import BowlerCard, LeftOut, RefusedFile, ReportPeriod, SeasonSummary
from pipeline.decisions.records.students import PracticeFocus, SkillComparison, SkillEstimate
from pipeline.decisions.records.transition import (
    TIMINGS,
    BallChange,
    ChangesInAll,
    Crossing,
    CurvePoint,
    LanePath,
    Lead,
    LineMove,
    Timing,
    TransitionCurve,
)

__all__ = [
    "PHASES",
    "TIMINGS",
    "WITHHELD",
    "AgePoint",
    "ArsenalGap",
    "ArsenalTask",
    "Bag",
    "BagBall",
    "BallChange",
    "BallVerdict",
    "BlockLedger",
    "BlockPlan",
    "BowlerCard",
    "CalibrationBin",
    "CareAct",
    "CareEffect",
    "CareOption",
    "CareVerdict",
    "ChangesInAll",
    "ComboWorth",
    "CostlyHabit",
    "Crossing",
    "CurvePoint",
    "Decisions",
    "DueBy",
    "EntryPoint",
    "Estimate",
    "EventPlan",
    "GainOverNow",
    "GritEvidence",
    "HeldOutGain",
    "HeldOutVerdict",
    "LadderRung",
    "LanePath",
    "Lead",
    "LeaveShare",
    "LedgerAccount",
    "LedgerAgainst",
    "LedgerPart",
    "LedgerPartName",
    "LeftOut",
    "LifePoint",
    "LineMove",
    "MaximTrial",
    "ModelCheck",
    "NextShots",
    "NextStep",
    "Phase",
    "PhaseAdvice",
    "PlanStep",
    "Policy",
    "PracticeFocus",
    "PracticeSession",
    "PracticeShots",
    "Record",
    "RedundantPair",
    "RefusedFile",
    "ReportPeriod",
    "RuleVerdict",
    "SeasonBeside",
    "SeasonSummary",
    "Sensitivity",
    "Settledness",
    "SkillComparison",
    "SkillEstimate",
    "StandIn",
    "Timing",
    "TransitionCurve",
]
