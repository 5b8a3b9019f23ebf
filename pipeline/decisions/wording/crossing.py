"""Where one line overtakes another, in words."""

from __future__ import annotations

from pipeline.decisions.records import Crossing
from pipeline.decisions.wording.terms import on_pattern, percent, sentence


def crossing_sentence(crossing: Crossing, last: float, ahead: float) -> str:
    """Which line leads first, and which one overtakes it when.

    ``last``: game or deliveries of the last point; ``ahead``: probability that the challenger is ahead there.
    """
    load = crossing.axis == "deliveries on the pair"
    end = f"{last:.0f} deliveries on the pair" if load else f"game {last:.0f}"
    where, probability = crossing.at, percent(crossing.probability)
    leads = f"Of lines kept throughout {on_pattern(crossing.pattern_class)}, {crossing.leader} leads at first."
    challenger = sentence(crossing.challenger)
    if where is None:
        return f"{leads} {challenger} comes closest, but overtakes by {end} with probability {probability}."
    digits = 0 if load else 1
    place = f"{where.mean:.{digits}f} deliveries" if load else f"game {where.mean:.{digits}f}"
    return (
        f"{leads} {challenger} passes it with probability {probability}, around {place} "
        f"(80 % interval {where.lo80:.{digits}f} to {where.hi80:.{digits}f}). "
        f"By {end} it is ahead with probability {percent(ahead)}."
    )
