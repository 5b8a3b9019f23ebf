"""Model checks as records."""
