"""axe-core (Deque Systems, MPL 2.0) by the package `axe-playwright-python`; rules of WCAG 2.0 to 2.2, levels A and AA, and
best practices."""

from __future__ import annotations

from typing import Any

import pytest

axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")


def broken_rules(page: Any) -> list[str]:
    """What keeps people out of the page as it is shown now, a line each."""
    page.wait_for_load_state("load")
    return [
        f"{one['id']}: {node['html'][:160]} {node.get('failureSummary', '')[:200]}"
        for one in axe.Axe().run(page).response["violations"]
        for node in one["nodes"]
    ]
