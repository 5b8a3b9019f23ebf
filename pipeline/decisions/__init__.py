"""Answers for a coach, one folder per question; records/ holds the typed results, wording/ every sentence."""
