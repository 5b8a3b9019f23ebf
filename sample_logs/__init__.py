"""An invented season of tenpin logs, the generator that made it (``generate``), and its known truth (``truth``)."""
