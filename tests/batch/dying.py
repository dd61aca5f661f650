"""Work that dies, in a module that loads next to nothing: each new process imports it."""

from __future__ import annotations

import os
import signal

from photomeasure.batch.rows import Done, failed_row
from photomeasure.batch.tasks import Task


def dies(task: Task) -> Done:
    os._exit(1)


def bad_dies(task: Task) -> Done:
    if task.rig == "bad":
        os.kill(os.getpid(), signal.SIGKILL)
    return Done(row=failed_row(task.rig, "", "seen"))


def bad_dies_once(task: Task) -> Done:
    mark = task.record_file.with_name("tried")
    if task.rig == "bad" and not mark.exists():
        mark.parent.mkdir(exist_ok=True)
        mark.touch()
        os._exit(9)
    return Done(row=failed_row(task.rig, "", "seen"))


def no_room_for_b(task: Task) -> Done:
    return Done(row=failed_row(task.rig, "", "seen"), no_room=task.rig == "b")
