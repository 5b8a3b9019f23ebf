"""Shot logs in: read CSV, check every row, store the good ones, quarantine the rest."""
