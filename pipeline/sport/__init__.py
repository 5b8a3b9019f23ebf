"""Rules of the sport as pure functions: lane, leaves, classes, scoring, score distribution."""
