"""Progress of long work on the terminal; silent when the output is not a terminal."""

from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TaskID, TextColumn


class Shown:
    """A progress display; `tell(stage, done, total)` moves the bar of that stage."""

    def __init__(self, *, quiet: bool = False) -> None:
        console = Console(stderr=True)
        self._progress = Progress(
            SpinnerColumn(),
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            console=console,
            disable=quiet or not console.is_terminal,
        )
        self._tasks: dict[str, TaskID] = {}

    def __enter__(self) -> "Shown":
        self._progress.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._progress.stop()

    def tell(self, stage: str, done: int, total: int) -> None:
        """Show that `done` of `total` steps of a stage are finished."""
        if stage not in self._tasks:
            self._tasks[stage] = self._progress.add_task(stage, total=total)
        self._progress.update(self._tasks[stage], completed=done, total=total)
