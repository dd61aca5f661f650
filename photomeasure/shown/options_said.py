"""How each door says what is still needed: by options on the command line, by fields on the page, in plain words on paper.

What is computed knows nothing of doors: it gives a code (`asked.needs`), and only here is it said how to answer it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from calib.words.said import said
from photomeasure.asked.needs import Need
from photomeasure.record.schema import Record

Medium = Literal["command", "page", "paper"]

_BARS = said("Measure both check bars on the printed sheet with a ruler")
SAID: Mapping[Need, Mapping[Medium, str]] = {
    "bars": {
        "command": said("{bars}, and give what it reads: --bar-x MM --bar-y MM.", bars=_BARS),
        "page": said('{bars}, and type in what it reads under "Change the answers".', bars=_BARS),
        "paper": said("{bars}, and say what it reads.", bars=_BARS),
    },
    "bar-x": {
        "command": said("Measure check bar X on the printed sheet with a ruler too: --bar-x MM."),
        "page": said(
            'Measure check bar X on the printed sheet with a ruler too, and type it in under "Change the answers".'
        ),
        "paper": said("Measure check bar X on the printed sheet with a ruler too, and say what it reads."),
    },
    "bar-y": {
        "command": said("Measure check bar Y on the printed sheet with a ruler too: --bar-y MM."),
        "page": said(
            'Measure check bar Y on the printed sheet with a ruler too, and type it in under "Change the answers".'
        ),
        "paper": said("Measure check bar Y on the printed sheet with a ruler too, and say what it reads."),
    },
    "coupled": {
        "command": said("Was the trailer connected? --coupled or --uncoupled."),
        "page": said('Was the trailer connected? Answer it under "Change the answers".'),
        "paper": said("Was the trailer connected?"),
    },
    "laden": {
        "command": said("Was the rig laden? --laden or --unladen."),
        "page": said('Was the rig laden? Answer it under "Change the answers".'),
        "paper": said("Was the rig laden?"),
    },
    "level-ground": {
        "command": said("Was the ground hard and flat? --level-ground or --unknown-ground."),
        "page": said('Was the ground hard and flat? Answer it under "Change the answers".'),
        "paper": said("Was the ground hard and flat?"),
    },
    "level-control": {
        "command": said("Does the vehicle level itself? --level-control or --no-level-control."),
        "page": said('Does the vehicle level itself? Answer it under "Change the answers".'),
        "paper": said("Does the vehicle level itself?"),
    },
    "centre": {
        "command": said(
            "Mark the coupling's centre: --centre X,Y, once for each photograph, in pixels of the upright "
            "picture; the rulers on the annotated picture tell them."
        ),
        "page": said("Mark the coupling's centre: tap on it in the picture."),
        "paper": said("Mark the coupling's centre in the photograph, and measure again."),
    },
    "which-ball": {
        "command": said("Say which of them is the ball: --centre X,Y, in pixels of the upright picture."),
        "page": said("Say which of them is the ball: choose its letter, or tap on it in the picture."),
        "paper": said("Say which of them is the ball, and measure again."),
    },
    "ball-diameter": {
        "command": said("Measure the ball with callipers: --ball-diameter MM."),
        "page": said('Measure the ball with callipers, and type it in under "Change the answers".'),
        "paper": said("Measure the ball with callipers, and say its diameter."),
    },
    "camera": {
        "command": said("A lens like this can be calibrated: photomeasure calibrate, then --camera CAMERA.json."),
        "page": said("A lens like this can be calibrated, by somebody with the program's command line."),
        "paper": said("A lens like this can be calibrated."),
    },
    "other-profile": {
        "command": said("Make a profile of this camera with photomeasure calibrate, or leave out --camera."),
        "page": said("Somebody with the program's command line can make a profile of this camera."),
        "paper": said("Have a profile made of this camera."),
    },
    "kit": {
        "command": said("No sheet yet? photomeasure target --out DIR writes it, to print at 100 %."),
        "page": said("No sheet yet? The first page has it, to print at 100 %."),
        "paper": said("No sheet yet? Ask for it, and print it at 100 %."),
    },
}
TITLES: Mapping[Medium, str] = {
    "command": said("What I need from you"),
    "page": said("What I need from you"),
    "paper": said("What is still needed"),
}


def needed(record: Record, door: Medium) -> tuple[str, ...]:
    """A line for each thing that only the person can tell, in the words of this door."""
    return tuple(SAID[need.code][door] for need in record.needs)
