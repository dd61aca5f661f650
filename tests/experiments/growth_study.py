"""How cost grows with photographs, markers of a bay and rigs of a batch: processor seconds, and the exponent of each.

    OPENBLAS_NUM_THREADS=1 python -m tests.experiments.growth_study     writes growth.new.md and growth.new.svg beside this file

Processor time and not the clock's (but for a batch), so that other work on the machine disturbs it little; ratios within one
run are what counts. Exponent: the slope in a log-log plot over the larger half of the sizes.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from photomeasure.asked.stated import Stated
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.batch.run import run
from photomeasure.batch.tasks import tasks_of
from photomeasure.pipeline import Result, measure
from photomeasure.solution.estimate import Estimate, estimate
from tests.bay import test_bay_points
from tests.points.simulate import Shot, simulate
from tests.sample_requests import SAMPLES, sample_request

Series = list[tuple[int, float]]
PHOTOGRAPHS, MARKERS, RIGS = (1, 2, 3, 4, 6, 8), (10, 20, 40, 80, 120), (8, 16, 32, 64)
_BEST_OF = 3


def main() -> None:
    """Measure, print, write table and plot."""
    cv2.setNumThreads(1)
    found = {
        "photographs, the solution (simulated, with the ground sheet)": [(n, solved(n)) for n in PHOTOGRAPHS],
        "photographs, from file to result (sample set, 12 MP)": [(n, measured(n)) for n in (1, 2, 3)],
        "markers of a bay, three photographs, the solution": [(n, in_bay(n)) for n in MARKERS],
        "rigs of a batch (one process, chat.jpg; by the clock)": [(n, batch(n)) for n in RIGS],
    }
    lines = [
        "# How cost grows",
        "",
        "Processor seconds of one run (`python -m tests.experiments.growth_study`); the exponent is the slope over the larger half.",
        "",
    ]
    for name, series in found.items():
        lines += [
            f"## {name}: exponent {exponent(series):.2f}",
            "",
            "| size | " + " | ".join(str(n) for n, _ in series) + " |",
        ]
        lines += ["|---" * (len(series) + 1) + "|", "| s | " + " | ".join(f"{s:.3f}" for _, s in series) + " |", ""]
    print("\n".join(lines))
    beside = Path(__file__).parent
    (beside / "growth.new.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (beside / "growth.new.svg").write_text(plot(found), encoding="utf-8")


def exponent(series: Series) -> float:
    """Slope of log cost over log size, the larger half of the sizes."""
    sizes, costs = np.log(np.array(series[-max(3, (len(series) + 1) // 2) :])).T
    return float(np.polyfit(sizes, costs, 1)[0])


def _best(job: Callable[[], object]) -> float:
    costs = []
    for _ in range(_BEST_OF):
        began = time.process_time()
        job()
        costs.append(time.process_time() - began)
    return min(costs)


def solved(count: int) -> float:
    """The solution alone, `count` simulated photographs from lenses in an arc."""
    angles = np.radians(np.linspace(-35.0, 35.0, count)) if count > 1 else np.zeros(1)
    lenses = tuple((1900.0 * float(np.sin(a)), -1900.0 * float(np.cos(a)), 600.0) for a in angles)
    scene = simulate(Shot(lenses_mm=lenses, ground_sheet=True), np.random.default_rng(5)).scene
    assert isinstance(estimate(scene), Estimate)
    return _best(lambda: estimate(scene))


def measured(count: int) -> float:
    """From JPEG to result, of the set's first photographs."""
    request = sample_request("set")
    first = sample_request("set", photos=request.photos[:count], centres_px=request.centres_px[:count])
    assert isinstance(measure(first), Result)
    return _best(lambda: measure(first))


def in_bay(markers: int) -> float:
    """The solution of three photographs of a bay."""
    rng = np.random.default_rng(3)
    spread = ((-1200, 1200), (0, 400), (200, 1300))
    test_bay_points.PLACES = np.column_stack([rng.uniform(low, high, markers) for low, high in spread])
    test_bay_points.LENSES = (*test_bay_points.LENSES[:2], np.array([0.0, -2300.0, 800.0]))  # type: ignore[assignment]
    scene, _ = test_bay_points.bay(rng, 3, markers)
    assert isinstance(estimate(scene), Estimate)
    return _best(lambda: estimate(scene))


def batch(rigs: int) -> float:
    """A batch of `rigs` rigs, records and table written; start-up of the one worker process included. By the clock: that process is
    none of this one's children, so that nobody tells what it used."""
    place = Path(tempfile.mkdtemp())
    rows = [f"rig {i},{SAMPLES / 'chat.jpg'},150,150" for i in range(rigs)]
    (place / "rigs.csv").write_text("\n".join(["rig,photo,bar_x_mm,bar_y_mm", *rows]), encoding="utf-8")
    tasks = tasks_of(read_rig_list(place / "rigs.csv").rigs, Stated(), place / "out")
    began = time.perf_counter()
    done = run(tasks, 1, lambda done: None).done
    took = time.perf_counter() - began
    assert len(done) == rigs
    shutil.rmtree(place)
    return took


def plot(found: dict[str, Series]) -> str:
    """The series in one log-log plot, SVG."""
    sizes = [n for series in found.values() for n, _ in series]
    costs = [s for series in found.values() for _, s in series]
    left, right, top, bottom = 60.0, 620.0, 20.0, 360.0

    def at(n: float, s: float) -> tuple[float, float]:
        across = np.log(n / min(sizes)) / np.log(max(sizes) / min(sizes))
        up = np.log(s / min(costs)) / np.log(max(costs) / min(costs))
        return left + (right - left) * float(across), bottom - (bottom - top) * float(up)

    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 470" font-family="sans-serif" font-size="12">',
        '<rect width="640" height="470" fill="white"/>',
        f'<path d="M{left} {top}V{bottom}H{right}" fill="none" stroke="black"/>',
    ]
    for n in sorted({1, 2, 4, 8, 16, 32, 64, 120} & set(sizes)):
        parts.append(f'<text x="{at(n, min(costs))[0]:.0f}" y="{bottom + 16}" text-anchor="middle">{n}</text>')
    for s in (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0):
        if min(costs) <= s <= max(costs):
            parts.append(f'<text x="{left - 6}" y="{at(1, s)[1] + 4:.0f}" text-anchor="end">{s:g} s</text>')
    for number, (name, series) in enumerate(found.items()):
        dash = ("", "8 4", "2 4", "10 3 2 3")[number % 4]
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in (at(n, s) for n, s in series))
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="black" stroke-width="2" stroke-dasharray="{dash}"/>'
        )
        y = bottom + 40 + 16 * number
        parts.append(f'<path d="M{left} {y - 4}h50" stroke="black" stroke-width="2" stroke-dasharray="{dash}"/>')
        parts.append(f'<text x="{left + 60}" y="{y}">{name}: exponent {exponent(series):.2f}</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"


if __name__ == "__main__":
    main()
