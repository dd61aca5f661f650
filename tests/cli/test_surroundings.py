"""A caller that closed the standard streams, and a user without a home: told or done, never a traceback, nothing lost."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="by a shell's means")

ROOT = Path(__file__).parents[2]
WITHIN = ROOT / "sample_images" / "within.jpg"


def run_in(words: list[str], folder: Path, env: Mapping[str, str]) -> subprocess.CompletedProcess[str]:
    env = {**env, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])}
    return subprocess.run(words, cwd=folder, env=env, capture_output=True, text=True, timeout=120, check=False)


def _by_a_shell(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    line = f'"{sys.executable}" -m photomeasure {line}; echo "code $?" >> ended'
    return run_in(["sh", "-c", line], folder, os.environ)


def _code(folder: Path) -> str:
    return (folder / "ended").read_text().strip()


@pytest.mark.parametrize("line", ["rules", "schema record", "audit", f'measure "{WITHIN}" --json -'])
def test_an_answer_that_nobody_can_get_is_told(line: str, tmp_path: Path) -> None:
    """The standard output closed, as by `>&-`: exit code 2 as for a full disk, in place of a traceback."""
    done = _by_a_shell(f"{line} >&-", tmp_path)
    assert _code(tmp_path) == "code 2"
    assert "Cannot write the answer" in done.stderr and "Next:" in done.stderr and "Traceback" not in done.stderr


def test_a_closed_standard_input_is_no_terminal(tmp_path: Path) -> None:
    """As a job scheduler starts programs; asking for the tape ended in a traceback."""
    done = _by_a_shell(f'measure "{WITHIN}" --json r.json <&-', tmp_path)
    assert _code(tmp_path) == "code 0" and (tmp_path / "r.json").is_file() and "Traceback" not in done.stderr


def test_a_closed_error_output_changes_no_exit_code(tmp_path: Path) -> None:
    done = _by_a_shell("measure nowhere.jpg 2>&-", tmp_path)
    assert _code(tmp_path) == "code 2" and not done.stdout


def test_files_are_whole_where_all_streams_are_closed(tmp_path: Path) -> None:
    """No file gets the number of a stream, into which a library might write."""
    _by_a_shell(f'measure "{WITHIN}" --out there <&- >&- 2>&-', tmp_path)
    starts = {path.suffix: path.read_bytes()[:4] for path in (tmp_path / "there").iterdir()}
    assert starts == {".json": b'{\n "', ".jpg": b"\xff\xd8\xff\xe0", ".pdf": b"%PDF"}


_WITHOUT_A_HOME = """
import os, pwd
def unknown(number): raise KeyError(number)
pwd.getpwuid = unknown
os.environ.pop("HOME", None)
import sys
sys.argv[0] = "photomeasure"
from photomeasure.cli import main
main()
"""


def test_a_user_without_a_home(tmp_path: Path) -> None:
    """A number that the system has no name for and HOME not set, as in some containers: every command ended in a traceback."""
    env = {name: value for name, value in os.environ.items() if not name.startswith("XDG_")}
    words = [sys.executable, "-c", _WITHOUT_A_HOME, "measure", str(WITHIN), "--json", "r.json"]
    done = run_in(words, tmp_path, env)
    assert done.returncode == 0 and (tmp_path / "r.json").is_file(), done.stderr


_CTRL_C_AT = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # as in a terminal, whoever runs the tests
class Stop:
    def find_spec(self, name, *rest):
        if name == "typer":
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Stop())
import photomeasure.cli
"""


def test_ctrl_c_while_it_is_being_loaded(tmp_path: Path) -> None:
    """Before, a traceback through whatever library was just being read."""
    done = run_in([sys.executable, "-c", _CTRL_C_AT], tmp_path, os.environ)
    assert done.returncode == -signal.SIGINT and not done.stderr and not done.stdout


def test_loading_leaves_ctrl_c_as_it_was(tmp_path: Path) -> None:
    for before in ("signal.default_int_handler", "signal.SIG_IGN"):  # in a terminal; in the background of a script
        code = f"import signal; signal.signal(2, {before}); import photomeasure.cli; assert signal.getsignal(2) is {before}"
        assert run_in([sys.executable, "-c", code], tmp_path, os.environ).returncode == 0


_NO_MORE_FILES = """
import errno, os, sys
from photomeasure.batch import workers
def none_left(*words): raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))
workers.Workers.__init__ = none_left
sys.argv = ["photomeasure", "batch", ".", "--out", "out", "--jobs", "1"]
from photomeasure.cli import main
main()
"""


def test_too_few_files_for_another_process_is_told(tmp_path: Path) -> None:
    shutil.copyfile(ROOT / "sample_images" / "refuse.jpg", tmp_path / "a.jpg")
    done = run_in([sys.executable, "-c", _NO_MORE_FILES], tmp_path, os.environ)
    assert done.returncode == 2 and "Too many open files" in done.stderr and "fewer --jobs" in done.stderr
