"""Work done beside the page, so that the page never stands still: one piece after the other, each done once."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any

Progress = Callable[[int, int], None]
Work = Callable[[Progress], Any]


@dataclass(slots=True)
class Job:
    """One piece of work: how far it is (`total` 0 while that is unknown), and what came of it."""

    done: int = 0
    total: int = 0
    finished: bool = False
    value: Any = None
    trouble: str = ""


class JobQueue:
    """Carries out pieces of work in a thread of its own. changed: called from that thread after each bit of progress.

    What goes wrong in a piece is kept in its `trouble`, one line, and the next one is begun.
    """

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed
        self._pieces: dict[Hashable, Job] = {}
        self._waiting: deque[tuple[Job, Work]] = deque()
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def ask(self, name: Hashable, work: Work) -> Job:
        """The piece `name`; begun, or lined up, if nobody has asked for it before."""
        with self._lock:
            if name in self._pieces:
                return self._pieces[name]
            piece = self._pieces[name] = Job()
            self._waiting.append((piece, work))
            if self._thread is None:
                # A daemon: a kernel that is shut down does not wait for it.
                self._thread = threading.Thread(target=self._run, daemon=True)
                self._thread.start()
        return piece

    def wait(self) -> None:
        """Wait until nothing is left to do."""
        thread = self._thread
        if thread is not None:
            thread.join()

    def _run(self) -> None:
        while True:
            with self._lock:
                if not self._waiting:
                    self._thread = None
                    return
                piece, work = self._waiting.popleft()
            self._carry_out(piece, work)

    def _carry_out(self, piece: Job, work: Work) -> None:
        def progress(done: int, total: int) -> None:
            piece.done, piece.total = done, total
            self._changed()

        try:
            piece.value = work(progress)
        except Exception as error:
            piece.trouble = " ".join(str(error).split()) or type(error).__name__
        piece.finished = True
        self._changed()
