"""Checking rows: deliveries and their frames, dates, and reference files."""
