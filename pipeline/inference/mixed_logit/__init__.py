"""Mixed logistic regression on counts by a sparse Laplace approximation."""
