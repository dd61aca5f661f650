"""What a large photograph costs in memory: `python -m tests.experiments.memory_study make FOLDER 48 [KIND...]`, then `... run FILE...`,
`... page FILE...`, or `... batch FOLDER` for two processes.

make: `within` enlarged to so many million pixels (8000 x 6000, 16318 x 12238), a file of each kind; HEIC in tiles of 512, as
phones write it. run: each is measured by the command (record, picture and report), and what the command and its decoder hold
is read every 10 ms: the most of each, and of both at one moment; resident (RSS, MB; what two processes share counts twice) and
proportional (PSS, what is shared counts once). Linux only.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import psutil
from PIL import Image

from tests.sample_requests import SAMPLES

SIZES = {12: (4000, 3000), 48: (8000, 6000), 64: (9236, 6926), 200: (16318, 12238)}
OPTIONS: dict[str, dict[str, Any]] = {
    "jpg": {"quality": 92},
    "jpeg": {"quality": 92, "progressive": True},
    "heic": {"quality": 80, "tile_size": 512, "enc_params": {"preset": "ultrafast"}},
    "avif": {"quality": 80, "speed": 10},
    "png": {"compress_level": 1},
    "tif": {"compression": "raw"},
    "tiff": {"compression": "tiff_lzw"},
    "webp": {"quality": 85, "method": 0},
}
EVERY_S, PORT = 0.01, 8767
PROGRAM = (sys.executable, "-m", "photomeasure")
SAID = ("--bar-x", "150", "--bar-y", "150", "--uncoupled", "--unladen", "--level-ground")
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
    with TemporaryDirectory() as out:
        record, said = Path(out) / "record.json", Path(out) / "said.txt"
        most = _watched([*PROGRAM, "measure", str(photo), "--out", out, "--json", str(record), *SAID, *options], said)
        return most, _came((record if record.exists() else said).read_text())


def batch(folder: Path) -> tuple[Most, str]:
    """What two workers take for the photographs of a folder, with their decoders and the process that they are forked from."""
    with TemporaryDirectory() as out:
        records = Path(out) / "records"
        most = _watched(
            [*PROGRAM, "batch", str(folder), "--out", str(records), "--jobs", "2", *SAID], Path(out) / "said.txt"
        )
        return most, ", ".join(_came(path.read_text()) for path in sorted(records.glob("within*.json")))


def page(photo: Path) -> tuple[Most, str]:
    """What the page takes for one that is sent to it, from its start."""
    import httpx2

    most = Most()
    with subprocess.Popen([*PROGRAM, "serve", "--port", str(PORT)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        address = next(found[0] for line in process.stdout if (found := re.search(r"http://\S+", line)))
        sending = threading.Thread(target=lambda: _send(httpx2, address, photo, process))
        sending.start()
        _watch(process, most)
        sending.join()
    return most, "sent, measured, drawn"


def _send(httpx2: Any, address: str, photo: Path, process: subprocess.Popen[str]) -> None:
    """The first page's form, and what a browser asks for after it."""
    said = {
        "coupling": "ball-50",
        "coupled": "no",
        "laden": "no",
        "level_ground": "yes",
        "bar_x": "150",
        "bar_y": "150",
    }
    try:
        with httpx2.Client(
            follow_redirects=True, timeout=120.0, headers={"Origin": address.rsplit("/", 2)[0]}
        ) as client:
            files = {"photos": (photo.name, photo.read_bytes(), "image/jpeg")}
            shown = client.post(address.rstrip("/") + "/measure", data=said, files=files)
            assert shown.status_code == 200 and "402." in shown.text, shown.text[:500]
    finally:
        process.terminate()


def _watched(command: list[str], said: Path) -> Most:
    """Run it and look at it until it ends; said: what it prints."""
    most = Most()
    with said.open("w") as stream:
        _watch(subprocess.Popen(command, stdout=stream, stderr=subprocess.STDOUT), most)
    return most


def _watch(process: subprocess.Popen[Any], most: Most) -> None:
    watched = psutil.Process(process.pid)
    while process.poll() is None:
        _look(watched, most)
        time.sleep(EVERY_S)


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
        most, came = batch(photo) if what == "batch" else page(photo) if what == "page" else measured(photo, *options)
        row = (photo.stat().st_size / 1e6, most.command, most.decoder, most.both, most.both_shared_once)
        print(f"| {photo.name} | " + " | ".join(f"{one:.0f}" for one in row) + f" | {came} |", flush=True)


if __name__ == "__main__":
    main()
