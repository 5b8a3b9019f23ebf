"""Rules of thumb put on trial."""
