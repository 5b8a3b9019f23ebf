"""How many cases: a quick profile in the suite, thousands with ``RACKLEDGER_FUZZ=thousands``."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

_THOUSANDS = os.environ.get("RACKLEDGER_FUZZ") == "thousands"


def cases(quick: int, many: int) -> settings:
    """Settings of a property: the same ``quick`` cases at every run, or ``many`` new ones."""
    return settings(
        max_examples=many if _THOUSANDS else quick,
        derandomize=not _THOUSANDS,
        deadline=None,
        database=None,
        print_blob=True,
        suppress_health_check=list(HealthCheck),
    )
