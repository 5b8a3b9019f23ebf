"""What the columns of cells of strikes are, for the models fitted to them."""

from __future__ import annotations

from pipeline.inference.mixed_logit.named_effects import Columns

STRIKE_CELLS = Columns(successes="strikes", trials="shots", unit="bowler", nested=("ball",))
