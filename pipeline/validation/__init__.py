"""Checks of the fitted models against held-out blocks and replicated seasons."""
