"""Rigs through worker processes: each finished record is on disk before the next begins, in any order, numbers alike."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from calib.words.said import said
from photomeasure.batch.rows import Done, failed_row
from photomeasure.batch.tasks import Task
from photomeasure.batch.workers import Died, Workers


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """done: of the tasks, in their order, None for one that was not reached; interrupted: by Ctrl-C; lost: what went on where
    they were measured went away for good."""

    done: tuple[Done | None, ...]
    interrupted: bool = False
    lost: bool = False

    @property
    def full(self) -> bool:
        """Whether a record found no room: nothing more was begun then, for it would have been measured for nothing."""
        return any(done is not None and done.no_room for done in self.done)


def run(tasks: Sequence[Task], jobs: int, finished: Callable[[Done], None]) -> Batch:
    """Work on all tasks in `jobs` processes (one process for one job too, so that its numbers are those of many).

    finished: called once for each in the order in which they end. Ctrl-C, or a disk that is full, lets those that are at work
    end and gives up the rest. A rig whose process died is tried once more at the end, alone, as it may have wanted the memory
    that others held; if it dies again it gets a row that says so. The other rigs are not touched by it.
    """
    done: list[Done | None] = [None] * len(tasks)
    interrupted, again = False, []
    with Workers(min(jobs, max(len(tasks), 1)), _work) as workers:
        results = workers.results(tasks)
        try:
            for number, result in results:
                if isinstance(result, Died):
                    again.append(number)
                else:
                    done[number] = result
                    finished(result)
                    if result.no_room:
                        workers.stop()
        except KeyboardInterrupt:
            interrupted = True
            workers.stop()
            for number, result in workers.remaining():
                done[number] = None if isinstance(result, Died) else result
    for number in again:
        if interrupted or Batch(done=tuple(done)).full:
            break
        try:
            done[number] = result = _alone(tasks[number])
            finished(result)
        except KeyboardInterrupt:
            interrupted = True
    return Batch(done=tuple(done), interrupted=interrupted)


def _alone(task: Task) -> Done:
    with Workers(1, _work) as workers:
        result = next(workers.results([task]))[1]
    if not isinstance(result, Died):
        done: Done = result
        return done
    why = said(
        "the process that measured it died twice ({how}): a damaged photograph, or too little memory. Next: "
        "measure its photographs one by one to find which it is; for want of memory, run again with fewer "
        "--jobs.",
        how=result.how,
    )
    return Done(row=failed_row(task.rig, task.photos_text, why))


def _work(task: Task) -> Done:
    """In a worker: what measuring needs is loaded here, and not in the parent."""
    from photomeasure.batch.work import work

    return work(task)
