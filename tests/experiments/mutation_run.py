"""Which changes of one line does no test notice? In the packages that decide. By hand; some seconds a change.

    python -m tests.experiments.mutation_run [--each N] [--seed S] [--only WORD] [--timeout SECONDS]

Every change is made in a copy of the repository under the temporary folder, never in the tree itself, and only the tests
that are listed for a module are run against it. A change that no test fails on is a survivor: it is written, with its line,
to mutation_run.md, where a person puts down beside it why it stands or which test kills it now.
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
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RESULT = Path(__file__).with_suffix(".md")
RECORD_TESTS = (
    "tests/record/test_record_of_draws.py",
    "tests/commands/test_measure_command.py",
    "tests/solution/test_contradictions.py",
)
MODULES: dict[str, tuple[str, ...]] = {
    "photomeasure/verdict/judge.py": ("tests/verdict/test_verdict.py", "tests/record/test_record_of_draws.py"),
    "photomeasure/verdict/conformity.py": ("tests/verdict/test_verdict.py", "tests/rules"),
    "photomeasure/verdict/adjustment.py": ("tests/verdict/test_verdict.py",),
    "photomeasure/verdict/doubts.py": ("tests/verdict/test_doubts.py", "tests/solution/test_contradictions.py"),
    "photomeasure/verdict/state_of_band.py": ("tests/verdict/test_verdict.py",),
    "photomeasure/interval/budget.py": ("tests/bay/test_bay_points.py", "tests/interval/test_budget.py"),
    "photomeasure/interval/expanded.py": ("tests/interval/test_expanded.py",),
    "photomeasure/scene/priors.py": ("tests/scene/test_scene_assembly.py",),
    "photomeasure/solution/scene_of.py": ("tests/scene/test_scene_assembly.py", "tests/test_sample_images.py"),
    "photomeasure/record/made_from_result.py": RECORD_TESTS,
    "photomeasure/record/input_rows.py": ("tests/bay/test_bay_points.py", "tests/commands/test_measure_command.py"),
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


def outcome_of(change: Change, place: Path, timeout_s: float) -> str:
    """killed, survived or timeout: what the tests of its module say of a change, made in the copy at `place`."""
    target = place / change.module
    kept = target.read_text(encoding="utf-8")
    target.write_text(change.text, encoding="utf-8")
    tests = [test for test in MODULES[change.module] if (place / test).exists()]
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    try:
        done = subprocess.run(command, cwd=place, capture_output=True, timeout=timeout_s, check=False)
    except subprocess.TimeoutExpired:
        return "timeout"
    finally:
        target.write_text(kept, encoding="utf-8")
    if done.returncode not in (0, 1, 2):
        raise RuntimeError(done.stdout.decode()[-2000:])
    return "survived" if done.returncode == 0 else "killed"


def copied(place: Path) -> Path:
    """The repository's code and tests, without what is not needed."""
    for name in ("photomeasure", "calib", "tests", "sample_images"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", place)
    return place


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=12, help="changes a module, drawn")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="modules with this in their path")
    parser.add_argument("--timeout", type=float, default=300.0)
    said = parser.parse_args()
    rng, rows = random.Random(said.seed), []
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        place = copied(Path(folder))
        for module in MODULES:
            if said.only not in module:
                continue
            changes = changes_of(module)
            for change in sorted(rng.sample(changes, min(said.each, len(changes))), key=lambda one: one.line):
                outcome = outcome_of(change, place, said.timeout)
                rows.append((change, outcome))
                print(
                    f"{outcome:9} {module}:{change.line} {change.kind}: {change.before} -> {change.after}", flush=True
                )
    _write(rows)


def _write(rows: list[tuple[Change, str]]) -> None:
    lines = ["| module | changes | killed | survived |", "|---|---|---|---|"]
    for module in dict.fromkeys(change.module for change, _ in rows):
        own = [outcome for change, outcome in rows if change.module == module]
        lines.append(f"| {module} | {len(own)} | {len(own) - own.count('survived')} | {own.count('survived')} |")
    lines += ["", "Survivors:", ""]
    for change, outcome in rows:
        if outcome == "survived":
            lines.append(f"- `{change.module}`:{change.line}, {change.kind}: `{change.before}` -> `{change.after}`")
    RESULT.with_suffix(".new.md").write_text("\n".join([*lines, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
