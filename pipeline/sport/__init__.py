"""Rules of the sport as pure functions: lane, leaves, classes, layouts, oil, scores, worth of a game in play."""
