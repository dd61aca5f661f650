"""What programs may use of both packages: listed, typed, loaded late, and the README's example does what it says."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("photomeasure", "calib")


def stubbed(package: str) -> set[str]:
    """Names that the stub gives a type."""
    tree = ast.parse((ROOT / package / "__init__.pyi").read_text(encoding="utf-8"))
    names = {alias.asname or "" for node in tree.body if isinstance(node, ast.ImportFrom) for alias in node.names}
    return names | {
        node.target.id for node in tree.body if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    }


@pytest.mark.parametrize("package", PACKAGES)
def test_every_public_name_is_there_and_typed(package: str) -> None:
    """The list, the stub and what is there are one; a class or function is the one that its module has."""
    module = import_module(package)
    assert set(module.__all__) == stubbed(package) == set(dir(module))
    for name in module.__all__:
        value = getattr(module, name)
        assert name == "__version__" or (value.__module__.split(".")[0] in PACKAGES and value.__doc__)
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        module.nothing_of_the_kind  # noqa: B018


def test_nothing_is_loaded_before_it_is_used() -> None:
    said = "import sys, photomeasure, calib; print(sorted({'numpy', 'cv2', 'pydantic', 'typer'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", said], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_the_example_of_the_readme() -> None:
    """Run as it stands, from the repository's root; truth of the sample: 402 mm."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"<!-- python example -->\n```python\n(.*?)```", text, flags=re.DOTALL)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    figure = re.match(r"(\d+\.\d) \+/- (\d+\.\d) mm, .*Within the band", done.stdout)
    assert figure is not None, done.stdout
    assert abs(float(figure[1]) - 402.0) <= 1.5 * float(figure[2])
