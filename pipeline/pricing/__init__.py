"""Model draws turned into pins per game by the exact scoring rules."""
