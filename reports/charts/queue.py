"""Charts drawn beside the writing of pages.

The drawing engine is a separate process, and a thread hands it one chart after the other, so this thread is free to
fill the pages. A page waits for a chart only when it sets it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass

from markupsafe import Markup

from reports.charts import worker

Step = Callable[[], None]


@dataclass(frozen=True, eq=False)
class Drawing:
    """A chart asked for; a template that sets it waits for its markup."""

    coming: Future[Markup]
    placed: Step

    def __html__(self) -> str:
        markup = self.coming.result()
        self.placed()
        return markup


@dataclass(frozen=True)
class Pen:
    """Draws charts in the order asked for; ``placed`` is called for every drawing set into a page."""

    thread: ThreadPoolExecutor
    placed: Step

    def draw(self, chart: Callable[..., Markup], *what: object) -> Drawing:
        """Have ``chart(*what)`` drawn."""
        return Drawing(self.thread.submit(chart, *what), self.placed)


@contextmanager
def pen(placed: Step) -> Iterator[Pen]:
    """A pen; charts not drawn by the end stay undrawn."""
    thread = ThreadPoolExecutor(1, thread_name_prefix="pen")
    try:
        yield Pen(thread, placed)
    except BaseException:
        thread.shutdown(wait=False, cancel_futures=True)
        worker.stop()  # the thread may wait for an answer that never comes
        raise
    finally:
        thread.shutdown(cancel_futures=True)
