"""`photomeasure target --out DIR`: write the kit to print, and say what to do with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import said, say

if TYPE_CHECKING:
    from calib.kit.languages import Language


def target(out: Path, paper: str, number: int | None = None, to: str | None = None, language: Language = "en") -> int:
    """Write `target.pdf` and `target.json` into the folder `out`, print where they are; returns exit code 0.

    number: of the print; without one it is drawn.
    to: whom the photographs are sent back to. Raises InputError where the paper is not one of the kit's, or the folder cannot be written.
    """
    from calib.kit.kit import PAPERS, kit
    from calib.kit.number import MAX_NUMBER, draw_number
    from calib.kit.paper import PAPER_WORDS
    from calib.kit.sheets import write_target
    from calib.outcome.errors import InputError

    chosen = next((known for known in PAPERS if known == paper.strip().lower()), None)
    if chosen is None:
        raise InputError(
            said("There is no kit for paper {paper}.", paper=repr(paper)),
            expected=said("one of {listed}", listed=", ".join(PAPERS)),
            remedy=said("give --paper the size that is in the printer; any other size would be scaled by it"),
        )
    if number is not None and not 1 <= number <= MAX_NUMBER:
        raise InputError(
            said("--number is {number}.", number=number),
            expected=said("1 to {max_number}", max_number=MAX_NUMBER),
            remedy=said("leave it out, and a number is drawn; or give that of a print that is to be printed again"),
        )
    number = draw_number() if number is None else number
    pdf, facts = write_target(out, chosen, number, to, language)
    print(say("Kit to print:     {pdf}", pdf=pdf))
    print(say("Its geometry:     {facts}", facts=facts))
    print(say("Number of print:  {number:06d}", number=number))
    bar_x, bar_y = kit(chosen).upright.bars_mm
    print(
        say(
            """
What to do next
  1. Print all pages at 100 % ("actual size"), never "fit to page", on {paper} paper.
  2. Lay a ruler on the check bars of the upright sheet, along both axes: {bar_x:.0f} mm and {bar_y:.0f} mm.
     Tick what the ruler reads in the boxes, or give it to `photomeasure measure`: --bar-x MM --bar-y MM.
     Without a ruler, a card of the usual size must just cover the outline on page 1.
  3. Cut the upright sheet along its foot line and tape it flat on something stiff with a square side.
  4. Tick the other boxes with a pen.
  5. Stand it on the ground under or beside the coupling, in the plane of the coupling's centre, facing the
     camera, and photograph it as page 1 shows.

Caution: hard, level ground; brakes on and wheels chocked. Nobody between vehicle and trailer,
hands out of the coupling, nobody under anything that only a jack or jockey wheel holds. A photograph is no
certificate: confirm with a tape; local codes and licensed people decide.""",
            paper=PAPER_WORDS[chosen],
            bar_x=bar_x,
            bar_y=bar_y,
        )
    )
    return 0
