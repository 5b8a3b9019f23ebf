"""Decisions for other programs: JSON, CSV, and the field guide."""
