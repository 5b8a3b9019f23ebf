"""A plan for a posted pattern."""
