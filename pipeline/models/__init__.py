"""Models of strike carry, leaves and spare conversion, fitted to counts and priced in pins."""
