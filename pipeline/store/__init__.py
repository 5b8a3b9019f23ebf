"""The season on disk: the database, the season opened for reading, scratch files, interrupts, Spark."""
