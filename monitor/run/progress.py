"""A progress bar over the inputs of a recording."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from monitor.run.journal import Entry
from monitor.run.recording import Recording

_SHOWN_EVERY = 500


@contextmanager
def bar(name: str, recording: Recording, console: Console) -> Iterator[Callable[[Entry], None]]:
    """Give a function to call with every input. It may go over them twice: a replay comes second."""
    total = recording.about.inputs if recording.about else None
    columns = (TextColumn(name), BarColumn(), TextColumn("{task.completed:,.0f} inputs"), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("", total=total)
        seen = 0

        def passed(entry: Entry) -> None:
            nonlocal seen
            seen += 1
            if seen % _SHOWN_EVERY == 0:
                progress.update(task, completed=seen - total if total and seen > total else seen)

        yield passed
