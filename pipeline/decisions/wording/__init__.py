"""Words for numbers, lines, balls and plans."""
