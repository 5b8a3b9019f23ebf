"""Spark is an optional extra; without it this folder is not collected, and `make spark` installs it."""

import importlib.util

collect_ignore_glob = [] if importlib.util.find_spec("pyspark") else ["test_*.py"]
