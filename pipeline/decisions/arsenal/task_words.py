"""A task of the work list in words."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.decisions.arsenal.calls import WITHHELD, Verdict
from pipeline.decisions.records import CareOption, DueBy, GritEvidence, StandIn
from pipeline.decisions.wording.terms import interval, percent, plural, signed
from pipeline.inference.sample_size import MOST_SHOTS, shots_in_words

_NO_SHOTS_TELL = "more shots with it as it is would hardly settle it, shots after a resurfacing might"


def what_settles(needed: int) -> str:
    """What would let a verdict be said: about how many more shots, or that shots as the ball is would not."""
    return f"{shots_in_words(needed)} would settle it" if needed < MOST_SHOTS else _NO_SHOTS_TELL


@dataclass(frozen=True)
class TaskWords:
    """What the sentence of a task says."""

    name: str
    do: Verdict
    best: CareOption
    due: DueBy
    grit: GritEvidence
    stand_in: StandIn | None
    needed: int

    def sentence(self) -> str:
        """What to do, to which grit, by when and how sure; or what would settle it."""
        if self.best.p_gain is None:
            gain = f"{percent(self.best.p_best)} likely to be the best"
        else:
            pins = f"{signed(self.best.gain.mean, 1)} pins per game after its cost"
            gain = f"{pins}, {interval(self.best.gain, 1)}, {percent(self.best.p_gain)} likely to gain"
        if self.do in WITHHELD:
            start = "watch" if self.do == "watch" else "not enough shots"
            return f"{self.name}: {start}. To {self.best.act} looks best so far ({gain}); {what_settles(self.needed)}."
        if self.do == "keep":
            return f"{self.name}: keep as it is ({gain}); {self._next()}."
        if self.do == "resurface":
            grit = "; no evidence on the grit" if self.grit.grit is None else f" to {self.grit.grit} grit"
            return f"{self.name}: resurface {self._by()}{grit} ({gain})."
        if self.do == "retire":
            return f"{self.name}: retire ({gain}); a new ball of its class takes its place{self._or()}."
        return f"{self.name}: clean now ({gain})."

    def _by(self) -> str:
        if not self.due.games:
            return "now"
        day = "" if self.due.date is None else f", by {self.due.date.isoformat()} at your pace"
        return f"within {plural(round(self.due.games), 'game')} with it{day}"

    def _next(self) -> str:
        if self.due.games is None:
            return "no resurfacing is in sight"
        return "a resurfacing is due now" if self.due.games == 0 else f"next due for a resurfacing {self._by()}"

    def _or(self) -> str:
        if self.stand_in is None:
            return ""
        gain = self.stand_in.gain
        return f", or the {self.stand_in.ball_name} ({signed(gain.mean, 1)} pins per game, {interval(gain, 1)})"
