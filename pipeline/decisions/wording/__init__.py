"""Every sentence of a decision, one file per question; below the question folders, which hand it typed values."""
