"""HTML reports rendered from decision results."""
