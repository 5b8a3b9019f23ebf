"""Models of strikes, leaves, spares, balls and skills, fitted to counts."""
