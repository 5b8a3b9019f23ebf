"""Where one line overtakes another, in words."""

from __future__ import annotations

from pipeline.decisions.records import Crossing
from pipeline.decisions.wording.terms import on_pattern, percent, sentence


def crossing_sentence(crossing: Crossing, last: float, ahead: float) -> str:
    """Who leads first, and who passes when.

    ``last``: game or deliveries of the last point; ``ahead``: probability that the challenger is ahead there.
    """
    load = crossing.axis == "deliveries on the pair"
    end = f"{last:.0f} deliveries on the pair" if load else f"game {last:.0f}"
    where, probability = crossing.at, percent(crossing.probability)
    text = f"of lines kept {on_pattern(crossing.pattern_class)}, {crossing.leader} leads first; "
    if where is None:
        text += f"{crossing.challenger} comes closest, but overtakes by {end} with a probability of {probability}."
        return sentence(text)
    digits = 0 if load else 1
    place = f"{where.mean:.{digits}f} deliveries" if load else f"game {where.mean:.{digits}f}"
    text += (
        f"{crossing.challenger} starts behind and passes it with a probability of {probability}, around {place} "
        f"(80 % interval {where.lo80:.{digits}f} to {where.hi80:.{digits}f}); "
        f"by {end} it is ahead with probability {percent(ahead)}."
    )
    return sentence(text)
