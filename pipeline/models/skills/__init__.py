"""A bowler's skills as adjusted rates, and how widely their boards spread."""
