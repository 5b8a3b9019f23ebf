"""How worth, lines and balls change over the block."""
