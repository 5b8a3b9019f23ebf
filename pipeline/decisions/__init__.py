"""Answers for a coach, one folder per question; records.py holds the typed results."""
