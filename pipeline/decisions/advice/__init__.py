"""What to throw: the best choice in each phase, the next step, and what to log next."""
