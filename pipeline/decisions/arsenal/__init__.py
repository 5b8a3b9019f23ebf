"""Balls: keep, clean, resurface or retire; strength; overlap and gaps in the bag."""
