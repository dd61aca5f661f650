"""Which changes of one line does no test notice? In the rooms that decide. By hand; some seconds a change.

    python -m tests.experiments.mutation_run [--each N] [--seed S] [--only WORD...] [--first WORD...] [--jobs N] [--minutes M]
        [--most SECONDS]

First every file of tests is run once by itself with coverage: which lines it runs, how long it takes, and which of its tests fail
without any change (pictures or a browser that are not here; they are left out, and said). Then every change is made in a copy of
the repository under the temporary folder (one for each job), never in the tree itself, and the files of tests that run its line
are run against it, those of the module's own room first and then the quickest, as many as fit into --most seconds. A change that
no test fails on is a survivor: it is written, with its line, to mutation_run.new.md, and a person puts down in mutation_run.md
why it stands or which test kills it now. Changes are taken from the modules in turn, so a run that is cut off by --minutes has
looked at each of them alike; those that --first names come before all others.
"""

from __future__ import annotations

import argparse
import ast
import multiprocessing
import os
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import zip_longest
from multiprocessing.connection import Connection
from pathlib import Path
from queue import SimpleQueue

import pytest
from coverage import Coverage

ROOT = Path(__file__).resolve().parents[2]
RESULT = Path(__file__).with_suffix(".md")
ROOMS = (
    "photomeasure/verdict",
    "photomeasure/interval",
    "photomeasure/scene",
    "photomeasure/solution",
    "photomeasure/asked",
    "photomeasure/record",
    "photomeasure/seen/answers",
    "photomeasure/audit",
    "photomeasure/seal",
    "photomeasure/repeat",
    "photomeasure/batch",
    "photomeasure/web/enquiries",
)
MODULES = ("photomeasure/levelling.py", "photomeasure/pipeline.py")
# What takes longest to import and is never changed: loaded once, in a process that each run of tests is forked from.
LIBRARIES = (
    "numpy", "cv2", "scipy.optimize", "scipy.stats", "scipy.spatial.transform", "scipy.special", "pydantic", "typer.testing", "rich.console",
    "reportlab.pdfgen.canvas", "reportlab.platypus", "PIL.Image", "jinja2", "starlette.testclient", "babel.dates", "hypothesis.strategies",
    "pypdfium2", "jsonschema", "cryptography.hazmat.primitives.asymmetric.ed25519", "skimage.measure", "argon2", "alembic.command", "segno",
)  # fmt: skip
FORKED = multiprocessing.get_context("forkserver")
NO_TESTS_OF_A_LINE = ("tests/experiments", "tests/benchmarks", "tests/scenes/traced")
COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COUNTED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change of one module: where, what stood there, and the whole text with it."""

    module: str
    line: int
    kind: str
    before: str
    after: str
    text: str


Edit = tuple[str, Callable[[ast.AST], None], int]  # kind, what it does to a copy of the node, line


def edits_of(node: ast.AST) -> Iterator[Edit]:
    """What can be changed at one node."""
    line = getattr(node, "lineno", 1)
    for kind, edit in _inside(node):
        yield kind, edit, line
    for name in ("body", "orelse"):
        block = getattr(node, name, None)
        if isinstance(block, list):
            for i, statement in enumerate(block):
                if _can_go(statement):
                    yield "statement gone", _gone(name, i), statement.lineno


def _inside(node: ast.AST) -> Iterator[tuple[str, Callable[[ast.AST], None]]]:
    """What can be changed at one node, as functions of a copy of it."""
    if isinstance(node, ast.Compare):
        for i, op in enumerate(node.ops):
            if type(op) in COMPARED:
                yield "compared otherwise", _compared(i, COMPARED[type(op)])
    if isinstance(node, (ast.BinOp, ast.AugAssign)) and type(node.op) in COUNTED and not _of_text(node):
        yield "counted otherwise", _counted(COUNTED[type(node.op)])
    if isinstance(node, ast.BoolOp):
        yield "and for or", _bool
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not)):
        yield "sign or not dropped", _signless
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield "another number", _number
    if isinstance(node, ast.Constant) and type(node.value) is bool:
        yield "true for false", _flipped
    if isinstance(node, ast.IfExp):
        yield "the other branch", _other_branch
    if isinstance(node, ast.Call) and node.keywords and not _is_raised(node):
        for i, keyword in enumerate(node.keywords):
            if keyword.arg in (
                "doubts",
                "decision",
                "samples_mm",
                "interval_mm",
                "tagged",
                "told",
                "decided",
                "near_ground",
            ):
                yield f"without {keyword.arg}", _without_keyword(i)


def _compared(i: int, op: type[ast.cmpop]) -> Callable[[ast.AST], None]:
    return lambda node: node.ops.__setitem__(i, op())  # type: ignore[attr-defined]


def _counted(op: type[ast.operator]) -> Callable[[ast.AST], None]:
    return lambda node: setattr(node, "op", op())


def _bool(node: ast.AST) -> None:
    node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()  # type: ignore[attr-defined]


def _signless(node: ast.AST) -> None:
    node.op = ast.UAdd()  # type: ignore[attr-defined]


def _number(node: ast.AST) -> None:
    value = node.value  # type: ignore[attr-defined]
    node.value = value + 1 if value == 0 or isinstance(value, int) else value * 1.1  # type: ignore[attr-defined]


def _flipped(node: ast.AST) -> None:
    node.value = not node.value  # type: ignore[attr-defined]


def _other_branch(node: ast.AST) -> None:
    node.body, node.orelse = node.orelse, node.body  # type: ignore[attr-defined]


def _without_keyword(i: int) -> Callable[[ast.AST], None]:
    return lambda node: node.keywords.pop(i)  # type: ignore[attr-defined]


def _gone(name: str, i: int) -> Callable[[ast.AST], None]:
    return lambda node: getattr(node, name).__setitem__(i, ast.Pass())


def _can_go(statement: ast.stmt) -> bool:
    """Statements that add to something: an item set, a list or sum lengthened, a call for its effect, an early return."""
    if isinstance(statement, ast.Assign):
        return isinstance(statement.targets[0], ast.Subscript)
    if isinstance(statement, ast.Expr):
        return isinstance(statement.value, (ast.Call, ast.Yield, ast.YieldFrom))
    if isinstance(statement, ast.If):
        return len(statement.body) == 1 and isinstance(statement.body[0], ast.Return) and not statement.orelse
    return isinstance(statement, ast.AugAssign)


def _is_raised(node: ast.Call) -> bool:
    return isinstance(node.func, ast.Name) and node.func.id in ("InputError", "Refusal")


def _of_text(node: ast.AST) -> bool:
    return any(isinstance(part, (ast.JoinedStr, ast.List)) for part in ast.walk(node)) or any(
        isinstance(part, ast.Constant) and isinstance(part.value, str) for part in ast.walk(node)
    )


def places_of(module: str) -> list[tuple[int, Edit]]:
    """Where a module can be changed, by the number of the node: all but annotations, decorators and exceptions that are raised."""
    nodes = list(ast.walk(ast.parse((ROOT / module).read_text(encoding="utf-8"))))
    skipped = {id(inner) for node in nodes for outer in _not_of_interest(node) for inner in ast.walk(outer)}
    return [(i, edit) for i, node in enumerate(nodes) if id(node) not in skipped for edit in edits_of(node)]


def change_of(module: str, number: int, edit: Edit) -> Change:
    """One change, made."""
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    plain = ast.unparse(tree)
    kind, made, line = edit
    made(list(ast.walk(tree))[number])
    text = ast.unparse(ast.fix_missing_locations(tree))
    before, after = _difference(plain, text)
    return Change(
        module=module, line=line, kind=kind, before=_about(before, after), after=_about(after, before), text=text
    )


def _about(text: str, other: str) -> str:
    """What differs in a long line, and a little on either side."""
    first = next((i for i, (a, b) in enumerate(zip(text, other, strict=False)) if a != b), 0)
    return text if len(text) <= 160 else f"... {text[max(0, first - 60) : first + 80]} ..."


def _not_of_interest(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
        yield from node.decorator_list
    if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
        yield node.args
        if node.returns is not None:
            yield node.returns
    if isinstance(node, ast.AnnAssign):
        yield node.annotation
    if isinstance(node, ast.Raise):
        yield node
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        yield node
    if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
        yield node.format_spec


def _difference(before: str, after: str) -> tuple[str, str]:
    """The first line that differs, as it was and as it is."""
    for old, new in zip(before.splitlines(), after.splitlines(), strict=False):
        if old != new:
            return old.strip(), new.strip()
    return "", ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOfTests:
    """One file of tests as it is without any change: its seconds, the lines that it runs, the tests that fail anyway."""

    path: str
    seconds: float
    lines: dict[str, frozenset[int]]
    failing: tuple[str, ...]


def watched(test: str, place: Path, timeout_s: float) -> FileOfTests:
    """One file of tests, run by itself under coverage in the copy at `place`."""
    began = time.monotonic()
    _, told, lines = run_tests(place, [test, "-rfE", "--tb=no"], timeout_s, covered=True)
    words = [line.split() for line in told.splitlines()]
    failing = tuple(each[1] for each in words if len(each) > 1 and each[0] in ("FAILED", "ERROR"))
    return FileOfTests(path=test, seconds=time.monotonic() - began, lines=lines, failing=failing)


def tests_of(change: Change, files: Sequence[FileOfTests], most_s: float) -> list[FileOfTests]:
    """The files that run the changed statement (for one that runs at import: those that run anything inside the module's functions)."""
    tree = ast.parse((ROOT / change.module).read_text(encoding="utf-8"))
    inside = {
        line
        for node in ast.walk(tree)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
        for part in node.body
        for line in _span(part)
    }
    wanted = inside
    if change.line in inside:
        around = [node for node in ast.walk(tree) if isinstance(node, ast.stmt) and change.line in _span(node)]
        own = min(around, key=lambda node: len(_span(node)))
        wanted = {own.lineno, change.line}
    own_room = (
        str(Path("tests", *Path(change.module).with_suffix("").parts[1:2])) + os.sep
    )  # its tests are laid out as it is
    found = sorted(
        (one for one in files if wanted & one.lines.get(change.module, frozenset())),
        key=lambda one: (not one.path.startswith(own_room), one.seconds),
    )
    kept: list[FileOfTests] = []
    for one in found:
        if not kept or sum(each.seconds for each in kept) + one.seconds < most_s:
            kept.append(one)
    return kept


def _span(node: ast.stmt) -> range:
    return range(node.lineno, (node.end_lineno or node.lineno) + 1)


def outcome_of(change: Change, place: Path, tests: Sequence[FileOfTests], most_s: float) -> str:
    """killed, survived, not run or timeout: what the tests that run its line say of a change, made in the copy at `place`."""
    if not tests:
        return "not run"
    target = place / change.module
    kept = target.read_text(encoding="utf-8")
    target.write_text(change.text, encoding="utf-8")
    failing = [f"--deselect={test}" for one in tests for test in one.failing]
    try:
        code, _, _ = run_tests(place, [*(one.path for one in tests), "-x", *failing], 3.0 * most_s + 60.0)
    except TimeoutError:
        return "timeout"
    except EOFError:  # it ended itself
        return "killed"
    finally:
        target.write_text(kept, encoding="utf-8")
    return "survived" if code in (0, 5) else "killed"


def run_tests(
    place: Path, asked: Sequence[str], timeout_s: float, *, covered: bool = False
) -> tuple[int, str, dict[str, frozenset[int]]]:
    """Exit status of pytest in the copy at `place`, what it said, and (where covered) the lines that ran of each module."""
    told, (mine, theirs) = place / "told.txt", FORKED.Pipe(duplex=False)
    process = FORKED.Process(target=_in_copy, args=(str(place), list(asked), str(told), covered, theirs))
    process.start()
    theirs.close()
    answer = mine.recv() if mine.poll(timeout_s) else None
    if answer is None:
        process.kill()
    process.join()
    if answer is None:
        raise TimeoutError
    return answer[0], told.read_text(encoding="utf-8", errors="replace"), answer[1]


def _in_copy(place: str, asked: list[str], told: str, covered: bool, answer: Connection) -> None:
    """In the forked process: only from the copy, neither the tree itself nor another copy is on the path."""
    out = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.dup2(out, 2)
    os.chdir(place)
    for name in [name for name in sys.modules if name.split(".")[0] == "tests"]:
        del sys.modules[name]
    sys.path[:] = [place, *(entry for entry in sys.path if Path(entry or ".").resolve() not in (ROOT, Path(place)))]
    os.environ["PYTHONPATH"] = os.pathsep.join([place, os.environ.get("PYTHONPATH", "")])
    watch = Coverage(data_file=None, source_pkgs=["photomeasure", "calib"]) if covered else None
    if watch is not None:
        watch.start()
    code, lines = int(pytest.main(["-q", "-p", "no:cacheprovider", *asked])), {}
    if watch is not None:
        watch.stop()
        kept = watch.get_data()
        files = [path for path in kept.measured_files() if path.startswith(place + os.sep)]
        lines = {path[len(place) + 1 :]: frozenset(kept.lines(path) or ()) for path in files}
    sys.stdout.flush()
    answer.send((code, lines))
    os._exit(0)


def copied(place: Path) -> Path:
    """The repository's code and tests, without what is not needed."""
    for name in ("photomeasure", "calib", "tests", "sample_images"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        if (ROOT / name).exists():
            shutil.copy(ROOT / name, place)
    return place


def modules_of(words: Sequence[str]) -> list[str]:
    """The modules of the rooms that decide, those with one of these words in their path."""
    found = [str(path.relative_to(ROOT)) for room in ROOMS for path in sorted((ROOT / room).glob("*.py"))]
    return [
        module
        for module in (*found, *MODULES)
        if not module.endswith("__init__.py") and any(word in module for word in words)
    ]


def files_of_tests() -> list[str]:
    """Every file of tests, but for experiments, benchmarks, and those that need a browser or kill what they test."""
    found = (str(path.relative_to(ROOT)) for path in sorted((ROOT / "tests").rglob("test_*.py")))
    apart = ("browser", "axe", "killed")
    return [
        path for path in found if not path.startswith(NO_TESTS_OF_A_LINE) and not any(word in path for word in apart)
    ]


def drawn(modules: Sequence[str], each: int, seed: int) -> list[Change]:
    """So many changes of each module, one of each in turn."""
    rng = random.Random(seed)
    lists = []
    for module in modules:
        places = places_of(module)
        chosen = rng.sample(places, min(each, len(places)))
        lists.append([change_of(module, number, edit) for number, edit in chosen])
    return [change for turn in zip_longest(*lists) for change in turn if change is not None]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=12, help="changes a module, drawn")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[""], help="modules with one of these in their path")
    parser.add_argument(
        "--first", nargs="*", default=[], help="modules with one of these in their path before the others"
    )
    parser.add_argument(
        "--tests", nargs="*", default=[""], help="files of tests with one of these in their path, the slowest first"
    )
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=600.0, help="no change is begun after so many")
    parser.add_argument("--most", type=float, default=60.0, help="seconds of tests for one change")
    said = parser.parse_args()
    began, places = time.monotonic(), SimpleQueue[Path]()
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    FORKED.set_forkserver_preload(list(LIBRARIES))
    modules = modules_of(said.only)
    first = [module for module in modules if any(word in module for word in said.first)]
    later = [module for module in modules if module not in first]
    rows: list[tuple[Change, str]] = []
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder, ThreadPoolExecutor(said.jobs) as jobs:
        for i in range(said.jobs):
            places.put(copied(Path(folder).resolve() / str(i)))
        ranks = {test: [i for i, word in enumerate(said.tests) if word in test] for test in files_of_tests()}
        tests = sorted((test for test, found in ranks.items() if found), key=lambda test: ranks[test][0])
        files = list(jobs.map(partial(_looked_at, places), tests))
        for one in files:
            print(f"{one.seconds:6.1f} s {one.path}: {' '.join(one.failing)}", flush=True)
        print(f"{time.monotonic() - began:.0f} s: what runs which line is known", flush=True)

        def tried(change: Change) -> None:
            if time.monotonic() - began > 60.0 * said.minutes:
                return
            place = places.get()
            try:
                outcome = outcome_of(change, place, tests_of(change, files, said.most), said.most)
            finally:
                places.put(place)
            rows.append((change, outcome))
            where = f"{change.module}:{change.line}"
            print(f"{outcome:9} {where} {change.kind}: {change.before} -> {change.after}", flush=True)

        list(jobs.map(tried, [*drawn(first, said.each, said.seed), *drawn(later, said.each, said.seed)]))
    _write(sorted(rows, key=lambda row: (modules.index(row[0].module), row[0].line)))


def _looked_at(places: SimpleQueue[Path], test: str) -> FileOfTests:
    place = places.get()
    try:
        return watched(test, place, 280.0)
    except (TimeoutError, EOFError):
        return FileOfTests(path=test, seconds=280.0, lines={}, failing=())
    finally:
        places.put(place)


def _write(rows: list[tuple[Change, str]]) -> None:
    lines = ["| module | changes | killed | survived |", "|---|---|---|---|"]
    for module in dict.fromkeys(change.module for change, _ in rows):
        own = [outcome for change, outcome in rows if change.module == module]
        alive = own.count("survived") + own.count("not run")
        lines.append(f"| {module} | {len(own)} | {len(own) - alive} | {alive} |")
    lines += ["", "Survivors:", ""]
    for change, outcome in rows:
        if outcome in ("survived", "not run"):
            where = f"`{change.module}`:{change.line}" + (", run by no test" if outcome == "not run" else "")
            lines.append(f"- {where}, {change.kind}: `{change.before}` -> `{change.after}`")
    place = Path(os.environ.get("OUT", RESULT.parent)) / "mutation_run.new.md"
    place.write_text("\n".join([*lines, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
