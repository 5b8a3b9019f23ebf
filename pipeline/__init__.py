"""Batch pipeline from shot logs to decisions: trade, intake, models, decisions, in that order."""
