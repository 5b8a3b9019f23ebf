"""One thread of linear algebra a process: matrices are small, and the suite runs a process a core."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
