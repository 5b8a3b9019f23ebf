"""How often a first delivery strikes: by ball, line, pattern and game, and by entry board."""
