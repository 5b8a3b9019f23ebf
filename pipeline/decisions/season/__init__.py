"""The season in numbers: who bowled, what was logged, leaves and entry boards."""
