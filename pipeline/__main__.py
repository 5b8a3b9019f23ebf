"""``python -m pipeline`` is the command ``rackledger``."""

import sys
from pathlib import Path


def _forget_working_folder() -> None:
    """Take the working folder off the import path, unless this package lies in it.

    ``python -m`` puts it first, so that somebody's own reports.py or queries.py would be taken for ours.
    """
    home = Path(__file__).resolve().parents[1]
    if sys.path and Path(sys.path[0]).resolve() == Path.cwd() != home:
        del sys.path[0]
        if str(home) not in sys.path:
            sys.path.append(str(home))


if __name__ == "__main__":
    _forget_working_folder()
    from pipeline.cli import main

    main()
