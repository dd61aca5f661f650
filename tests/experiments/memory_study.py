"""What a large photograph costs in memory: `python -m tests.experiments.memory_study make FOLDER 48 [KIND...]`, then `... run FILE...`.

make: `within` enlarged to so many million pixels (8000 x 6000, 16318 x 12238), a file of each kind; HEIC in tiles of 512, as
phones write it. run: each is measured by the command (record, picture and report), and what the command and its decoder hold
is read every 10 ms: the most of each, and of both at one moment; resident (RSS, MB; what two processes share counts twice) and
proportional (PSS, what is shared counts once). Linux only.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import psutil
from PIL import Image

from tests.sample_requests import SAMPLES

SIZES = {12: (4000, 3000), 48: (8000, 6000), 200: (16318, 12238)}
OPTIONS: dict[str, dict[str, Any]] = {
    "jpg": {"quality": 92},
    "heic": {"quality": 80, "tile_size": 512, "enc_params": {"preset": "ultrafast"}},
    "avif": {"quality": 80, "speed": 10},
    "png": {"compress_level": 1},
    "tif": {"compression": "raw"},
    "tiff": {"compression": "tiff_lzw"},
    "webp": {"quality": 85, "method": 0},
}
EVERY_S = 0.01
Image.MAX_IMAGE_PIXELS = None


@dataclass(slots=True)
class Most:
    """MB at most."""

    command: float = 0.0
    decoder: float = 0.0
    both: float = 0.0
    both_shared_once: float = 0.0


def make(folder: Path, million: int, kinds: list[str]) -> None:
    """`within` enlarged, a file of each kind."""
    if "heic" in kinds:
        import pillow_heif

        pillow_heif.register_heif_opener()
    folder.mkdir(parents=True, exist_ok=True)
    with Image.open(SAMPLES / "within.jpg") as small:
        exif = small.getexif().tobytes()
        large = small.convert("RGB").resize(SIZES[million], Image.Resampling.BICUBIC)
    for kind in kinds:
        more: dict[str, Any] = (
            {} if kind == "tiff" else {"exif": exif}
        )  # Pillow's compressed TIFF takes no EXIF of a JPEG
        large.save(folder / f"within-{million}.{kind}", **more, **OPTIONS[kind])


def measured(photo: Path, *options: str) -> tuple[Most, str]:
    """What it takes to measure one, and what came of it."""
    most = Most()
    with TemporaryDirectory() as out:
        command = [sys.executable, "-m", "photomeasure", "measure", str(photo), "--out", out, "--bar-x", "150"]
        command += ["--bar-y", "150", "--uncoupled", "--unladen", "--level-ground", *options]
        command += ["--json", str(Path(out) / "record.json")]
        with (Path(out) / "said").open("w") as said:
            process = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT)
            watched = psutil.Process(process.pid)
            while process.poll() is None:
                _look(watched, most)
                time.sleep(EVERY_S)
        record = Path(out) / "record.json"
        came = _came((record if record.exists() else Path(out) / "said").read_text())
    return most, came


def _look(watched: psutil.Process, most: Most) -> None:
    try:
        rss, pss = _held(watched.pid)
        aside = [_held(child.pid) for child in watched.children(recursive=True)]
    except (psutil.Error, OSError):  # it has just ended
        return
    decoder = sum(one[0] for one in aside)
    most.command, most.decoder = max(most.command, rss), max(most.decoder, decoder)
    most.both = max(most.both, rss + decoder)
    most.both_shared_once = max(most.both_shared_once, pss + sum(one[1] for one in aside))
    if os.environ.get("MEMORY_TIMELINE"):
        print(f"{time.monotonic():.2f} {rss:.0f} {decoder:.0f}", file=sys.stderr)


def _held(pid: int) -> tuple[float, float]:
    """(RSS, PSS) of a process, MB."""
    rows = dict(line.split(":")[:2] for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()[1:])
    return tuple(int(rows[name].split()[0]) * 1024 / 1e6 for name in ("Rss", "Pss"))  # type: ignore[return-value]


def _came(text: str) -> str:
    try:
        record = json.loads(text)
    except ValueError:
        return text.strip().splitlines()[0][:120] if text.strip() else "nothing"
    refusal = record.get("refusal")
    return f"{record['height_mm']:.3f} mm" if refusal is None else f"{refusal['code']}: {refusal['reason']}"


def main() -> None:
    what, *rest = sys.argv[1:]
    if what == "make":
        make(Path(rest[0]), int(rest[1]), rest[2:] or list(OPTIONS))
        return
    options = [one for one in rest if one.startswith("--")]
    print("| photograph | file | command | decoder | both | both, shared once | |\n|---|---|---|---|---|---|---|")
    for photo in map(Path, (one for one in rest if not one.startswith("--"))):
        most, came = measured(photo, *options)
        row = (photo.stat().st_size / 1e6, most.command, most.decoder, most.both, most.both_shared_once)
        print(f"| {photo.name} | " + " | ".join(f"{one:.0f}" for one in row) + f" | {came} |", flush=True)


if __name__ == "__main__":
    main()
