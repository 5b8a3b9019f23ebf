"""Ids that stand for more than one person."""

EVERYONE = "everyone"
"""All bowlers together in decisions and reports, so no bowler may have this id."""
