"""What the README shows, made anew by the program as it is: the answer, the annotated picture, the page's two pictures.

    python sample_images/make_shown.py            # answer and annotated picture
    python sample_images/make_shown.py --page     # the page's pictures too (needs playwright and a chromium)
"""

from __future__ import annotations

import argparse
import io
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
SAMPLES, SHOWN = ROOT / "sample_images", ROOT / "sample_images" / "shown"
README = ROOT / "README.md"
_COMMAND = re.compile(r"photomeasure (measure sample_images/\S+ [^\n]*)")
_ANSWER = re.compile(r"(<!-- answer -->\n```text\n).*?(\n```\n)", re.DOTALL)
_WIDE_PX = 1100


def arguments() -> list[str]:
    """What the README's run command gives to the program."""
    block = README.read_text(encoding="utf-8").partition("<!-- run command -->")[2].partition("```\n")[0]
    found = _COMMAND.search(block)
    if found is None:
        raise SystemExit("README.md has no run command that measures a sample")
    return found.group(1).split()


def answer(place: Path) -> str:
    """What the program prints, without the line that says where files are."""
    typed = arguments()
    typed[typed.index("--out") + 1] = str(place)
    done = subprocess.run([sys.executable, "-m", "photomeasure", *typed], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.partition("\nWritten:")[0].strip()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--page", action="store_true")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        said = answer(Path(place))
        (picture,) = Path(place).glob("*-height.jpg")
        image = Image.open(picture)
        image.thumbnail((_WIDE_PX, _WIDE_PX))
        stream = io.BytesIO()
        image.save(stream, "JPEG", quality=85, optimize=True)
        (SHOWN / "result.jpg").write_bytes(stream.getvalue())
    text = README.read_text(encoding="utf-8")
    README.write_text(_ANSWER.sub(lambda found: found.group(1) + said + found.group(2), text), encoding="utf-8")
    if wanted.page:
        page()


def page() -> None:
    """The page on a phone: the answer, and marking the centre under the loupe."""
    from playwright.sync_api import sync_playwright

    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "photomeasure", "serve"], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    try:
        address = next(word for line in server.stdout or () for word in line.split() if word.startswith("http"))
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
            phone = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=2, has_touch=True)
            tab = phone.new_page()
            tab.goto(address)
            tab.set_input_files("#photos", str(SAMPLES / "coupled.jpg"))
            for name in ("coupled", "laden", "level_ground"):
                tab.check(f"input[name={name}][value=yes]", force=True)
            for name in ("bar_x", "bar_y"):
                tab.fill(f"#{name}", "150")
            tab.click("button.primary")
            tab.wait_for_url("**/rig/**", timeout=60_000)
            tab.screenshot(path=SHOWN / "page-result.png")
            tab.goto(f"{tab.url.rstrip('/')}/mark")
            tab.wait_for_timeout(1500)
            tab.screenshot(path=SHOWN / "page-marking.png")
            browser.close()
        for name in ("page-result.png", "page-marking.png"):
            image = Image.open(SHOWN / name).convert("P", palette=Image.Palette.ADAPTIVE, colors=128)
            image.save(SHOWN / name, optimize=True)
    finally:
        server.terminate()
        server.wait(10)


if __name__ == "__main__":
    main()
