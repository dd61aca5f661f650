"""Which changes of one line does no test notice? In the packages that decide. By hand; some seconds a change.

    python -m tests.experiments.mutation_run [--each N] [--seed S] [--only WORD...] [--jobs N] [--minutes M] [--timeout SECONDS]

Every change is made in a copy of the repository under the temporary folder (one for each job), never in the tree itself, and
only the tests that are listed for a module are run against it; tests that fail without any change are left out, and said. A
change that no test fails on is a survivor: it is written, with its line, to mutation_run.new.md, and a person puts down in
mutation_run.md why it stands or which test kills it now. Changes are taken from the modules in turn, so a run that is cut
off by --minutes has looked at each of them alike.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).resolve().parents[2]
RESULT = Path(__file__).with_suffix(".md")
RECORD_TESTS = (
    "tests/record",
    "tests/interval/test_carried.py",
    "tests/solution/test_contradictions.py",
    "tests/shown/test_quantities.py",
    "tests/commands/test_measure_command.py",
    "tests/commands/test_tape_command.py",
    "tests/batch/test_command.py",
)
MODULES: dict[str, tuple[str, ...]] = {
    "photomeasure/verdict/judge.py": ("tests/verdict/test_verdict.py", "tests/record/test_record_of_draws.py"),
    "photomeasure/verdict/conformity.py": ("tests/verdict/test_verdict.py", "tests/rules"),
    "photomeasure/verdict/adjustment.py": ("tests/verdict",),
    "photomeasure/verdict/doubts.py": ("tests/verdict/test_doubts.py", "tests/solution/test_contradictions.py"),
    "photomeasure/verdict/state_of_band.py": ("tests/verdict",),
    "photomeasure/verdict/no_drop.py": ("tests/verdict", "tests/asked", "tests/record"),
    "photomeasure/verdict/settled.py": ("tests/verdict", "tests/record", "tests/batch/test_command.py"),
    "photomeasure/interval/budget.py": (
        "tests/interval/test_budget.py",
        "tests/interval/test_expanded.py",
        "tests/bay/test_bay_points.py",
    ),
    "photomeasure/interval/carried.py": ("tests/interval/test_carried.py", "tests/interval/test_pair.py"),
    "photomeasure/interval/coach.py": ("tests/interval/test_coach.py", "tests/bay/test_bay_points.py"),
    "photomeasure/interval/expanded.py": (
        "tests/interval/test_expanded.py",
        "tests/interval/test_coach.py",
        "tests/interval/test_montecarlo.py",
    ),
    "photomeasure/interval/montecarlo.py": (
        "tests/interval/test_montecarlo.py",
        "tests/record/test_record_of_draws.py",
    ),
    "photomeasure/interval/pair.py": ("tests/interval/test_pair.py",),
    "photomeasure/scene/priors.py": ("tests/scene", "tests/bay/test_bay_points.py"),
    "photomeasure/scene/shared.py": ("tests/solution/test_one_phone.py", "tests/interval/test_pair.py", "tests/scene"),
    "photomeasure/solution/scene_of.py": ("tests/scene/test_scene_assembly.py", "tests/test_sample_images.py"),
    "photomeasure/solution/giving_way.py": ("tests/solution/test_notices.py", "tests/solution/test_contradictions.py"),
    "photomeasure/solution/mistakes.py": ("tests/solution/test_notices.py", "tests/solution/test_contradictions.py"),
    "photomeasure/solution/shared.py": ("tests/solution/test_one_phone.py", "tests/interval/test_pair.py"),
    "photomeasure/record/made_from_result.py": RECORD_TESTS,
    "photomeasure/record/input_rows.py": ("tests/bay/test_bay_points.py", *RECORD_TESTS),
    "photomeasure/record/level.py": ("tests/levelling",),
    "photomeasure/batch/work.py": ("tests/batch/test_kept.py",),
}
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


def changes_of(module: str) -> list[Change]:
    """Every change of a module, but for those inside annotations, decorators and exceptions that are raised."""
    source = (ROOT / module).read_text(encoding="utf-8")
    tree = ast.parse(source)
    nodes = list(ast.walk(tree))
    skipped = {id(inner) for node in nodes for outer in _not_of_interest(node) for inner in ast.walk(outer)}
    found = []
    for number, node in enumerate(nodes):
        if id(node) in skipped:
            continue
        for kind, edit, line in edits_of(node):
            changed = copy.deepcopy(tree)
            edit(list(ast.walk(changed))[number])
            ast.fix_missing_locations(changed)
            text = ast.unparse(changed)
            before, after = _difference(ast.unparse(tree), text)
            found.append(Change(module=module, line=line, kind=kind, before=before, after=after, text=text))
    return found


def _not_of_interest(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
        yield from node.decorator_list
    if isinstance(node, ast.FunctionDef):
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


def outcome_of(change: Change, place: Path, timeout_s: float, failing: Sequence[str]) -> str:
    """killed, survived or timeout: what the tests of its module say of a change, made in the copy at `place`."""
    target = place / change.module
    kept = target.read_text(encoding="utf-8")
    target.write_text(change.text, encoding="utf-8")
    try:
        done = _tested(place, change.module, timeout_s, "-x", *(f"--deselect={test}" for test in failing))
    except subprocess.TimeoutExpired:
        return "timeout"
    finally:
        target.write_text(kept, encoding="utf-8")
    if done.returncode not in (0, 1, 2):
        raise RuntimeError(done.stdout.decode()[-2000:])
    return "survived" if done.returncode == 0 else "killed"


def failing_without(module: str, place: Path, timeout_s: float) -> list[str]:
    """The tests of a module that fail without any change: pictures that are not here, a browser that is not."""
    done = _tested(place, module, 4.0 * timeout_s, "-rfE", "--tb=no")
    said = [line.split() for line in done.stdout.decode().splitlines()]
    return [words[1] for words in said if len(words) > 1 and words[0] in ("FAILED", "ERROR")]


def _tested(place: Path, module: str, timeout_s: float, *options: str) -> subprocess.CompletedProcess[bytes]:
    tests = [test for test in MODULES[module] if (place / test).exists()]
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *options, *tests]
    return subprocess.run(command, cwd=place, capture_output=True, timeout=timeout_s, check=False)


def copied(place: Path) -> Path:
    """The repository's code and tests, without what is not needed."""
    for name in ("photomeasure", "calib", "tests", "sample_images"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, place)
    return place


def drawn(modules: Sequence[str], each: int, seed: int) -> list[Change]:
    """So many changes of each module, one of each in turn."""
    rng = random.Random(seed)
    lists = [rng.sample(changes, min(each, len(changes))) for changes in map(changes_of, modules)]
    return [change for turn in zip_longest(*lists) for change in turn if change is not None]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=12, help="changes a module, drawn")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[""], help="modules with one of these in their path")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=600.0, help="no change is begun after so many")
    parser.add_argument("--timeout", type=float, default=300.0)
    said = parser.parse_args()
    began, places = time.monotonic(), SimpleQueue[Path]()
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    modules = [module for module in MODULES if any(word in module for word in said.only)]
    rows: list[tuple[Change, str]] = []
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder, ThreadPoolExecutor(said.jobs) as jobs:
        for i in range(said.jobs):
            places.put(copied(Path(folder) / str(i)))

        def alone(module: str) -> list[str]:
            place = places.get()
            try:
                return failing_without(module, place, said.timeout)
            finally:
                places.put(place)

        failing = dict(zip(modules, jobs.map(alone, modules), strict=True))
        for module, tests in failing.items():
            print(f"{module}: {len(tests)} tests fail without any change: {' '.join(tests)}", flush=True)

        def tried(change: Change) -> None:
            if time.monotonic() - began > 60.0 * said.minutes:
                return
            place = places.get()
            try:
                outcome = outcome_of(change, place, said.timeout, failing[change.module])
            finally:
                places.put(place)
            rows.append((change, outcome))
            print(
                f"{outcome:9} {change.module}:{change.line} {change.kind}: {change.before} -> {change.after}",
                flush=True,
            )

        list(jobs.map(tried, drawn(modules, said.each, said.seed)))
    _write(sorted(rows, key=lambda row: (modules.index(row[0].module), row[0].line)))


def _write(rows: list[tuple[Change, str]]) -> None:
    lines = ["| module | changes | killed | survived |", "|---|---|---|---|"]
    for module in dict.fromkeys(change.module for change, _ in rows):
        own = [outcome for change, outcome in rows if change.module == module]
        lines.append(f"| {module} | {len(own)} | {len(own) - own.count('survived')} | {own.count('survived')} |")
    lines += ["", "Survivors:", ""]
    for change, outcome in rows:
        if outcome == "survived":
            lines.append(f"- `{change.module}`:{change.line}, {change.kind}: `{change.before}` -> `{change.after}`")
    place = Path(os.environ.get("OUT", RESULT.parent)) / "mutation_run.new.md"
    place.write_text("\n".join([*lines, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
