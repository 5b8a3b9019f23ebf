"""The ledger: where the pins of every delivery went, against the class and against the bowler's own usual."""
