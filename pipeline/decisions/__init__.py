"""Answers to a coach: playbook, arsenal, ball changes, students, maxims and plans."""
