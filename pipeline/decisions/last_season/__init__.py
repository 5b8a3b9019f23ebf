"""This season beside the last: what changed for each bowler, and how much of it is likely real."""
