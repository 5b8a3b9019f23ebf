"""Statistical methods that know nothing of bowling."""
