"""The entry point: whatever a person can put right is told as what happened, what was expected and what to do next."""

from __future__ import annotations

import errno
import gc
import os
import sys
import warnings

from calib.words.said import say
from photomeasure.cli.surroundings import have_a_home, open_closed_streams
from photomeasure.commands.exit_codes import EXIT_INTERRUPTED, EXIT_USAGE

_OF_AN_OUTPUT = (errno.ENOSPC, errno.EPIPE, errno.EIO, errno.EBADF)
_SHORT_OF = (errno.EMFILE, errno.ENFILE, errno.EAGAIN, errno.ENOMEM)


def main() -> None:
    """Run the command that was typed. Exit code 2 for wrong input, 130 when stopped by Ctrl-C."""
    open_closed_streams()
    have_a_home()
    for stream in (
        sys.stdout,
        sys.stderr,
    ):  # what an encoding cannot hold (a file's name) is written out, never an error
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    gc.disable()  # what a start loads stays: looking for cycles in it finds nothing and takes a fifteenth of a measurement
    hush_libraries()
    one_thread()
    from photomeasure.cli.app import app

    try:
        code = _run(app)
        _flush()
    except Exception as error:
        code = _explain(error)
    if code:
        raise SystemExit(code)


def hush_libraries() -> None:
    """What libraries say to each other's programmers is not for the person who typed a command: nothing of it is printed.

    OPENCV_LOG_LEVEL and Python's -W stand above this. Before anything heavy is loaded, as OpenCV looks once.
    """
    os.environ.setdefault("OPENCV_LOG_LEVEL", "SILENT")
    os.environ.setdefault(
        "PYDANTIC_DISABLE_PLUGINS", "__all__"
    )  # looked for among all that is installed, at every start
    if not sys.warnoptions:
        warnings.simplefilter("ignore")


def one_thread() -> None:
    """Linear algebra without threads of its own, unless somebody set them: its matrices are small (some 400 x 50).

    On a machine with other work the threads wait for each other: three photographs took 1.5 times the processor time
    (`tests/experiments/growth.md`). Before NumPy is loaded, as it looks once.
    """
    from calib.outcome.threads import ONE_THREAD

    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")


def _run(app: object) -> int:
    """The command's exit code."""
    try:
        app()  # type: ignore[operator]
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else 0 if ended.code is None else EXIT_USAGE
    except KeyboardInterrupt:
        print(say("photomeasure: stopped."), file=sys.stderr)
        return EXIT_INTERRUPTED
    return 0


def _flush() -> None:
    """What is still to be written goes out here, where a full disk can be told, and not at the very end, where it cannot."""
    sys.stdout.flush()


def _explain(error: Exception) -> int:
    """Print an error that a person can act on; anything that is a fault of the program is raised again."""
    from calib.outcome.errors import InputError
    from calib.outcome.plain_text import plain

    if isinstance(error, InputError):
        print(f"photomeasure: {error.told()}", file=sys.stderr)
        return EXIT_USAGE
    if isinstance(error, OSError) and error.errno in _OF_AN_OUTPUT and error.filename is None:
        return _output_lost(error)
    if isinstance(error, OSError) and error.filename is not None:
        name = plain(os.fsdecode(error.filename) if isinstance(error.filename, str | bytes) else str(error.filename))
        print(
            say(
                "photomeasure: {name} cannot be used: {strerror}.\n  Expected: a file or folder that is there and may "
                "be read, or written to where it is an output\n  Next:     check the path and its permissions",
                name=name,
                strerror=error.strerror,
            ),
            file=sys.stderr,
        )
        return EXIT_USAGE
    if isinstance(error, OSError) and error.errno in _SHORT_OF:
        print(
            say(
                "photomeasure: the system gives no more of what is needed: {strerror}.\n  Expected: some thirty files open at a "
                "time, and room for another process\n  Next:     end other programs, raise that limit (ulimit), or ask for "
                "fewer --jobs",
                strerror=error.strerror,
            ),
            file=sys.stderr,
        )
        return EXIT_USAGE
    if isinstance(error, MemoryError):
        print(
            say(
                "photomeasure: there is not enough memory for this.\n  Expected: about 0.5 GB for photographs of 50 "
                "million pixels\n  Next:     use smaller photographs, or end other programs"
            ),
            file=sys.stderr,
        )
        return EXIT_USAGE
    if isinstance(error, ImportError) and ".so" in str(error):
        print(
            say(
                "photomeasure: OpenCV could not start: {error}.\n  Expected: the system libraries libGL, GLib and "
                "libxcb.\n  Next:     on Debian or Ubuntu: apt-get install libgl1 libglib2.0-0 libxcb1",
                error=error,
            ),
            file=sys.stderr,
        )
        return EXIT_USAGE
    raise error


def _output_lost(error: OSError) -> int:
    """The standard output cannot be written; a pipe that was closed by its reader is nothing to tell."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nothing more is tried at the very end
    if error.errno == errno.EPIPE:
        return 1
    print(
        say(
            "photomeasure: Cannot write the answer: {strerror}.\n  Expected: a terminal, a pipe or a file with "
            "room on its disk\n  Next:     free some space or send the output elsewhere; files that were asked "
            "for are written before it",
            strerror=error.strerror,
        ),
        file=sys.stderr,
    )
    return EXIT_USAGE
