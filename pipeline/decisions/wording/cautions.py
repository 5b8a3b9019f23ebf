"""Cautions that stand wherever a report advises care of a ball or more practice.

The wording is common practice of workshops and coaches. An advice sentence names the act only
(``resurface``, ``clean``); the how is left to the ball's maker, and these cautions stand beside it.
"""

from __future__ import annotations

from typing import Final

SANDING: Final = (
    "Sanding makes fine dust that should not be breathed: sand wet, wear a dust mask, use extraction where there is "
    "any, and wipe up the slurry before it dries."
)
SOLVENTS: Final = (
    "Cleaners and solvents: read the label, work with the windows open or outdoors, wear gloves, and keep them away "
    "from flames and from children."
)
HEAT: Final = (
    "Heat can crack a ball and burn the hand: follow the maker's limits for drawing oil out, and never use a "
    "household oven, dishwasher or open flame."
)
RULES: Final = (
    "Changing the surface is only allowed at the times, and with the cleaners, that the rules of the competition "
    "permit. Ask before you do it."
)
OVERUSE: Final = (
    "These numbers know nothing about sore wrists, fingers, knees or backs. Do not add shots, speed or revs through "
    "pain; young bowlers need rest days and lighter loads."
)
MINORS: Final = "Logs of minors are personal data: share reports only with consent, and with aliases on."
LIMITS_OF_EVIDENCE: Final = (
    "Advice about a ball rests on the shots logged. It does not see cracks, plugged holes or a poor fit: "
    "have those looked at by somebody who drills balls."
)

BALL_CARE: Final[tuple[str, ...]] = (SANDING, SOLVENTS, HEAT, RULES, LIMITS_OF_EVIDENCE)
PEOPLE: Final[tuple[str, ...]] = (OVERUSE, MINORS)
ALL: Final[tuple[str, ...]] = BALL_CARE + PEOPLE
