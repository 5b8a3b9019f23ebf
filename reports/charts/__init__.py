"""Charts: specifications, figures, and the worker that draws them."""
