"""Rules of the sport as pure functions: leaves, scoring, lane, ball and pattern classes."""
