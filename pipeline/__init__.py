"""Batch pipeline from shot logs to decisions: intake, store, models, pricing, decisions, in that order."""
