"""``python -m pipeline`` is the command ``rackledger``."""

from pipeline.cli import main

if __name__ == "__main__":
    main()
