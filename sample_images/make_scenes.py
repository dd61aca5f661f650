"""Render the sample photographs of the invented Ferncombe hire yard, or random rigs for accuracy studies.

    python sample_images/make_scenes.py --kit DIR                          all samples, into this folder
    python sample_images/make_scenes.py --kit DIR --only within,set        some of them
    python sample_images/make_scenes.py --kit DIR --study OUT --n 40 --seed 1 [--photos 3] [--coupled]
    python sample_images/make_scenes.py --kit DIR --study OUT --hands beside|under|three|tag|above|pair|two-tags|two|level --n 40 --seed 1
    python sample_images/make_scenes.py --kit DIR --balls OUT --n 130 --seed 2      (tests/experiments/ball_traced.py)

    python sample_images/make_scenes.py --kit DIR --second-kit DIR2 --study OUT --hands level --n 40 --seed 1

DIR holds the kit's target.pdf and target.json (`photomeasure target --out DIR`). Needs the extra `render` (the path
tracer) and LLVM; it is no part of the program and no test runs it.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from scene import tracer

LABEL_CAMERA = "Ferncombe Yardphone 3 (invented)"


def main(arguments: list[str] | None = None) -> int:
    """Parse, start the tracer, render."""
    options = _parser().parse_args(arguments)
    try:
        tracer.start(options.tracer)
        if options.ball_diameter is not None:
            from scene import towbar

            towbar.BALL_RADIUS_MM = options.ball_diameter / 2
        kit = _kit(options.kit)
        if options.second_kit is not None:
            from scene.kit_prints import with_second

            kit = with_second(kit, options.second_kit)
    except (RuntimeError, FileNotFoundError, KeyError) as error:
        print(f"make_scenes: {error}", file=sys.stderr)
        return 2
    if options.study is not None and options.hands is not None:
        from scene.hands import write_hands

        write_hands(
            options.study,
            kit,
            way=options.hands,
            count=options.n,
            first=options.first,
            seed=options.seed,
            width_px=options.width or 4000,
            tell=lambda line: print(line, flush=True),
        )
        return 0
    if options.study is not None:
        from scene.study import write_study

        write_study(
            options.study,
            kit,
            count=options.n,
            seed=options.seed,
            width_px=options.width or 3000,
            photos=options.photos,
            coupled=options.coupled,
            tell=lambda line: print(line, flush=True),
        )
        return 0
    if options.balls is not None:
        from scene.ball_study import write_balls

        write_balls(
            options.balls,
            kit,
            count=options.n,
            first=options.first,
            seed=options.seed,
            varied=options.varied or options.photographs is not None,
            photographs=options.photographs,
            tell=lambda line: print(line, flush=True),
        )
        return 0
    if options.rims is not None:
        from scene.rims import write_rims

        for number in range(options.first, options.first + options.n):
            write_rims(options.rims, kit, seed=options.seed, number=number, tell=lambda line: print(line, flush=True))
        return 0
    for sample in _chosen(options.only):
        _write_sample(sample, kit, options)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--kit",
        type=Path,
        help="folder with target.pdf and target.json; without it a plain chequer (previews)",
    )
    parser.add_argument("--second-kit", type=Path, help="a kit of another number: the second sheet of two and level")
    parser.add_argument(
        "--out", type=Path, default=Path(__file__).resolve().parent, help="where the pictures go"
    )
    parser.add_argument("--only", help="names of samples, comma-separated")
    parser.add_argument(
        "--width", type=int, help="width of the landscape picture in pixels (default 4000; study 3000)"
    )
    parser.add_argument("--samples", type=int, default=8, help="rays for each pixel away from kit and ball")
    parser.add_argument("--study", type=Path, help="render random rigs into this folder instead")
    parser.add_argument("--balls", type=Path, help="render random tow bars for the search of the ball into this folder")
    parser.add_argument("--rims", type=Path, help="render crops of balls alone into this folder, to learn rims from")
    parser.add_argument("--varied", action="store_true", help="--balls with everything varied: to learn from")
    parser.add_argument("--photographs", type=Path, help="--balls --varied with pictures of this folder on walls behind")
    parser.add_argument("--ball-diameter", type=float, help="of the rigs' balls, mm, in place of 50")
    parser.add_argument("--photos", type=int, default=1, help="photographs of each rig of --study (3: any height)")
    parser.add_argument("--coupled", action="store_true", help="rigs of --study with their trailer on and a centre tag")
    parser.add_argument(
        "--hands",
        choices=["beside", "under", "three", "tag", "above", "pair", "two-tags", "two", "level"],
        help="rigs of --study with everything drawn that hands do, photographed in this way",
    )
    parser.add_argument("--first", type=int, default=0, help="number of the first rig of --hands, --balls or --rims")
    parser.add_argument("--tracer", default="llvm_ad_rgb", help="variant of the path tracer (cuda_ad_rgb on a card)")
    parser.add_argument("--n", type=int, default=20, help="how many random rigs")
    parser.add_argument("--seed", type=int, default=1, help="of the random rigs")
    return parser


def _kit(folder: Path | None) -> Any:
    from scene.kit_prints import chequer_kit, load_kit

    return chequer_kit() if folder is None else load_kit(folder)


def _chosen(only: str | None) -> list[Any]:
    from scene.rigs import SAMPLES

    if only is None:
        return list(SAMPLES)
    names = only.split(",")
    unknown = set(names) - {sample.name for sample in SAMPLES}
    if unknown:
        raise SystemExit(
            f"make_scenes: no sample called {', '.join(sorted(unknown))}; known: {', '.join(s.name for s in SAMPLES)}"
        )
    return [sample for sample in SAMPLES if sample.name in names]


def _write_sample(sample: Any, kit: Any, options: argparse.Namespace) -> None:
    from scene.shoot import Effort, Unit, exposed, photographed
    from scene.sky import emitters
    from scene.staging import staged

    began = time.monotonic()
    width = options.width or (3200 if sample.chat else 4000)
    unit = Unit(width_px=width, height_px=width * 3 // 4)
    effort = Effort(everywhere=options.samples, prints=6 * options.samples, ball=14 * options.samples)
    place = staged(sample.rig, kit)
    scene = place.stage.built(emitters(sample.rig.light))
    photos = []
    for number, shot in enumerate(sample.shots, start=1):
        lens = unit.lens(shot)
        seed = 1000 * sample.rig.seed + number
        radiance = exposed(scene, place, lens, sample.rig.light, effort, seed=seed)
        picture = photographed(radiance, shot.phone, seed)
        name = f"{sample.name}-{number}.jpg" if len(sample.shots) > 1 else f"{sample.name}.jpg"
        photos.append(_saved(options.out / name, picture, lens, place, shot, chat=sample.chat))
        print(f"{name}: {time.monotonic() - began:.0f} s")
    from scene.files import write
    from scene.truth import as_toml

    camera = "none in the file: a chat program took the EXIF block away" if sample.chat else LABEL_CAMERA
    write(
        options.out / f"{sample.name}.toml", as_toml(sample.rig, photos, kit=kit.name, camera=camera).encode()
    )


def _saved(path: Path, picture: Any, lens: Any, place: Any, shot: Any, *, chat: bool) -> Any:
    from scene.files import write
    from scene.phone import Label, jpeg, shrunk
    from scene.shoot import pointed_at
    from scene.truth import Photo, shrunk_lens

    if chat:
        factor = 1600 / max(picture.shape[:2])
        picture, lens = shrunk(picture, 1600), shrunk_lens(lens, factor)
        data = jpeg(picture, quality=70, label=None)
    else:
        data = jpeg(
            np.asarray(picture),
            quality=90,
            label=Label(taken=shot.taken, orientation=6 if shot.portrait else 1),
        )
    write(path, data)
    return Photo(
        file=path.name,
        lens=lens,
        centre_px=pointed_at(lens, place.seen_mm),
        hidden_px=pointed_at(lens, place.centre_mm),
    )


if __name__ == "__main__":
    sys.exit(main())
