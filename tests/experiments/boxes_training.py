"""Fit what `photomeasure.seen.answers.marks` reads boxes with, and write it.

Run by hand on a machine with PyTorch: python -m tests.experiments.boxes_training --sheets 14000 --seed 2 --jobs 16 --out marks.npz

The sheets that teach are drawn more variously than those that judge (`boxes_study`, other seeds): any distance, blur and
exposure, shadows with straight and bent edges, creases, specks, thick and thin printing, more kinds of marks, boxes with two
marks or none, dirty thumbs. Of a box it learns: nothing, a mark, or something that should be asked about.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding.box_looks import box_looks
from calib.finding.sheets import Finding, find_sheets
from calib.kit.answers import QUESTIONS
from calib.kit.kit import Paper, Sheet, kit
from calib.kit.number import MAX_NUMBER
from photomeasure.seen.answers.marks import DOUBTFUL, EMPTY, MARK
from tests.experiments.boxes_pictures import (
    MARKS,
    PENS_MM,
    PHONE_FOCAL_PX,
    PX_PER_MM,
    Condition,
    draw_mark,
    printed,
    smudge,
    take,
)

Light = NDArray[np.float32]
PAPERS: tuple[Paper, ...] = ("a4", "a4", "a4", "letter", "a3")
SCALE = 100.0  # of ink, as it is kept in bytes
LEFT_OUT = 255
LEAST_LEFT = 0.012  # ink, root mean square over a look, that a mark has to leave in a bleached picture
SMALLEST_SPECK_MM = 0.55  # in a box: what is smaller need not be asked about


def condition(rng: np.random.Generator) -> Condition:
    """Any picture that a phone or a chat program sends."""
    small = bool(rng.random() < 0.65)
    blurred = rng.random() < 0.25
    return Condition(
        name="any",
        near_m=(near := float(rng.uniform(1.0, 2.8))),
        far_m=near,
        focal_px=PHONE_FOCAL_PX * (0.4 if small else float(rng.uniform(0.5, 1.0))),
        quality=int(rng.integers(62, 85) if small else rng.integers(80, 96)),
        yaw_deg=float(rng.choice([8.0, 8.0, 35.0])),
        blur_px=(0.9, 1.6) if blurred else (0.4, 0.9) if small else (0.6, 1.5),
        sun=bool(rng.random() < 0.2),
    )


def shaded(light: Light, rng: np.random.Generator) -> Light:
    """Shadows: a straight or bent edge, or two of them, sharp or soft."""
    rows, columns = light.shape
    v, u = np.mgrid[:rows:4, :columns:4].astype(np.float32)
    lit = np.ones_like(u)
    for _ in range(int(rng.choice([1, 1, 2]))):
        turn = rng.uniform(0, 2 * np.pi)
        x, y = u / columns - rng.uniform(0.05, 0.95), (v - rng.uniform(0.05, 0.95) * rows) / columns
        across, along = x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)
        across = across + rng.choice([0.0, 1.0]) * rng.uniform(0.002, 0.03) * np.sin(
            along * rng.uniform(4, 40) + rng.uniform(0, 6)
        )
        edge = np.clip(across * rng.uniform(12, 170) + 0.5, 0, 1)
        lit *= 1 - rng.uniform(0.2, 0.85) * edge.astype(np.float32)
    whole = cv2.resize(lit.astype(np.float32), (columns, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(light * whole, dtype=np.float32)


def worn(light: Light, rng: np.random.Generator) -> Light:
    """Creases across the page, and printing that runs or is pale."""
    rows, columns = light.shape
    if rng.random() < 0.3:  # ink that runs: every line a quarter of a millimetre thicker
        light = np.asarray(cv2.erode(light, np.ones((3, 3), dtype=np.uint8)), dtype=np.float32)
    if rng.random() < 0.3:
        pale = rng.uniform(0.0, 0.2)
        light = light * (1 - pale) + pale
    for _ in range(int(rng.choice([0, 0, 1, 2]))):
        turn, width = rng.uniform(0, np.pi), rng.uniform(0.3, 2.0) * PX_PER_MM
        v, u = np.ogrid[:rows, :columns]
        off = (u - rng.uniform(0, columns)) * np.cos(turn) + (v - rng.uniform(0, rows)) * np.sin(turn)
        light = light * (1 - rng.uniform(-0.12, 0.25) * np.exp(-((off / width) ** 2))).astype(np.float32)
    return np.asarray(light, dtype=np.float32)


def ticked_sheet(paper: Paper, rng: np.random.Generator) -> tuple[Light, Light, NDArray[np.uint8]]:
    """A sheet blank and ticked and, box by box, what it holds."""
    sheet = kit(paper).upright
    light = worn(printed(paper, int(rng.integers(1, MAX_NUMBER + 1))), rng)
    blank = light.copy()
    labels = np.full(len(sheet.boxes), EMPTY, dtype=np.uint8)
    pen, mark = float(rng.choice(PENS_MM)), str(rng.choice(MARKS))
    for question in QUESTIONS:
        members = [i for i, box in enumerate(sheet.boxes) if box.question == question]
        for i in rng.choice(members, int(rng.choice([0, 1, 1, 1, 2])), replace=False):
            draw_mark(light, sheet, sheet.boxes[i], mark, pen, rng)
            labels[i] = MARK
            if rng.random() < 0.15:
                pen, mark = float(rng.choice(PENS_MM)), str(rng.choice(MARKS))
    for i in rng.choice(len(labels), int(rng.choice([0, 0, 1, 2])), replace=False):
        smudge(light, sheet, sheet.boxes[i], rng)
        labels[i] = DOUBTFUL if labels[i] == EMPTY else LEFT_OUT
    _specks(light, sheet, labels, rng)
    return blank, light, labels


def _specks(light: Light, sheet: Sheet, labels: NDArray[np.uint8], rng: np.random.Generator) -> None:
    """Dirt of a millimetre or so; in a box it is something that should be asked about."""
    for _ in range(int(rng.poisson(3))):
        box = int(rng.integers(len(labels)))
        x, y = sheet.boxes[box].centre_mm + rng.uniform(-1.2, 1.2, 2) * sheet.boxes[box].width_mm
        radius = rng.uniform(0.3, 1.0)
        where = round(x * PX_PER_MM), round((sheet.height_mm - y) * PX_PER_MM)
        cv2.circle(light, where, max(1, round(radius * PX_PER_MM)), float(rng.uniform(0.15, 0.7)), -1, cv2.LINE_AA)
        for i, other in enumerate(sheet.boxes):
            left, bottom, right, top = other.sides_mm()
            near = left - radius < x < right + radius and bottom - radius < y < top + radius
            if near and labels[i] == EMPTY:
                inside = left + radius < x < right - radius and bottom + radius < y < top - radius
                labels[i] = DOUBTFUL if inside and radius > SMALLEST_SPECK_MM else LEFT_OUT


def examples(seed: int) -> tuple[NDArray[np.int8], NDArray[np.uint8]]:
    """One sheet's looks, as kept, and labels; empty where the sheet is not found."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, 77])
    paper = PAPERS[int(rng.integers(len(PAPERS)))]
    sheet = kit(paper).upright
    blank, light, labels = ticked_sheet(paper, rng)
    if rng.random() < 0.45:
        state = rng.bit_generator.state
        light = shaded(light, rng)
        rng.bit_generator.state = state
        blank = shaded(blank, rng)
    how, state = condition(rng), rng.bit_generator.state
    grey = take(light, sheet, how, rng)
    found = find_sheets(grey)
    upright = found.of_role("upright") if isinstance(found, Finding) else None
    if upright is None or upright.sheet.paper != paper:
        return np.empty((0, 3, 24, 24), dtype=np.int8), np.empty(0, dtype=np.uint8)
    seen = box_looks(grey, upright)
    if how.sun:  # a mark of which nothing is left in the file teaches nothing
        rng.bit_generator.state = state
        before = box_looks(take(blank, sheet, how, rng), upright)
        left = np.sqrt(((seen.looks[:, 0] - before.looks[:, 0]) ** 2).mean(axis=(1, 2)))
        labels[(labels != EMPTY) & (left < LEAST_LEFT)] = LEFT_OUT
    keep = seen.seen & (labels != LEFT_OUT)
    return kept(seen.looks[keep]), labels[keep]


def kept(looks: NDArray[np.float32]) -> NDArray[np.int8]:
    return np.asarray(np.clip(np.rint(looks * SCALE), -127, 127), dtype=np.int8)


def fitted(
    looks: NDArray[np.int8], labels: NDArray[np.uint8], epochs: int, seed: int
) -> dict[str, NDArray[np.float32]]:
    """The network's weights by name."""
    import torch  # type: ignore[import-not-found, unused-ignore]
    from torch import nn

    torch.manual_seed(seed)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    x_all, y_all = torch.from_numpy(looks).to(device), torch.from_numpy(labels.astype(np.int64)).to(device)
    held = torch.arange(len(y_all), device=device) >= int(0.95 * len(y_all))  # sheets in order: the last ones judge
    teach = torch.nonzero(~held).ravel()
    first, second = nn.Conv2d(3, 16, 5, 2, 2), nn.Conv2d(16, 24, 3, 2, 1)
    inner, out = nn.Linear(24 * 36, 32), nn.Linear(32, 3)
    net = nn.Sequential(first, nn.ReLU(), second, nn.ReLU(), nn.Flatten(), inner, nn.ReLU(), nn.Dropout(0.2), out)
    net = net.to(device)
    optimiser = torch.optim.AdamW(net.parameters(), lr=3e-3, weight_decay=2e-2)
    batch = 2048
    plan = torch.optim.lr_scheduler.OneCycleLR(optimiser, 4e-3, total_steps=epochs * (len(teach) // batch))
    start = time.time()
    for epoch in range(epochs):
        net.train()
        order, total = teach[torch.randperm(len(teach), device=device)], 0.0
        for at in range(len(teach) // batch):
            index = order[at * batch : (at + 1) * batch]
            x = x_all[index].float() / SCALE
            gain = torch.empty(len(index), 1, 1, 1, device=device).uniform_(0.85, 1.15)
            loss = nn.functional.cross_entropy(net(x * gain), y_all[index])
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            optimiser.step()
            plan.step()
            total += float(loss.detach()) if at % 20 == 0 else 0.0
        if epoch % 5 == 4 or epoch == epochs - 1:
            net.eval()
            with torch.no_grad():
                parts = [net(x.float() / SCALE) for x in x_all[held].split(65536)]
                scores = torch.cat(parts)
                loss_held = float(nn.functional.cross_entropy(scores, y_all[held]))
                wrong = (scores.argmax(1) != y_all[held]).float().mean().item()
            print(
                f"epoch {epoch + 1}: held out {loss_held:.5f}, {100 * wrong:.3f} % wrong, {time.time() - start:.0f} s",
                flush=True,
            )
    names = {"first": first, "second": second, "inner": inner, "out": out}
    weights = {}
    for name, layer in names.items():
        weights[name] = layer.weight.detach().cpu().numpy()
        weights[f"{name}_offset"] = layer.bias.detach().cpu().numpy()
    return weights


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=16000)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--epochs", type=int, default=20)
    parser.add_argument("--nets", type=int, default=4)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    start = time.time()
    with ProcessPoolExecutor(options.jobs) as pool:
        seeds = range(options.seed * 10_000_000, options.seed * 10_000_000 + options.sheets)
        parts = list(pool.map(examples, seeds, chunksize=16))
    looks, labels = np.concatenate([part[0] for part in parts]), np.concatenate([part[1] for part in parts])
    print(
        f"{sum(len(part[1]) > 0 for part in parts)} sheets, {np.bincount(labels)} boxes, {time.time() - start:.0f} s",
        flush=True,
    )
    nets = [fitted(looks, labels, options.epochs, options.seed * 100 + net) for net in range(options.nets)]
    stacked = {name: np.stack([net[name] for net in nets]).astype(np.float16) for name in nets[0]}
    with options.out.open("wb") as file:
        np.savez_compressed(file, **stacked)  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
