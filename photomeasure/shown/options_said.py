"""How each door says what is still needed: by options on the command line, by fields on the page, in plain words on paper.

What is computed knows nothing of doors: it gives a code (`asked.needs`), and only here is it said how to answer it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from photomeasure.asked.needs import Need
from photomeasure.record.schema import Record

Door = Literal["command", "page", "paper"]

_BARS = "Measure both check bars on the printed sheet with a ruler"
SAID: Mapping[Need, Mapping[Door, str]] = {
    "bars": {
        "command": f"{_BARS}, and give what it reads: --bar-x MM --bar-y MM.",
        "page": f'{_BARS}, and type in what it reads under "Change the answers".',
        "paper": f"{_BARS}, and say what it reads.",
    },
    "bar-x": {
        "command": "Measure check bar X on the printed sheet with a ruler too: --bar-x MM.",
        "page": 'Measure check bar X on the printed sheet with a ruler too, and type it in under "Change the answers".',
        "paper": "Measure check bar X on the printed sheet with a ruler too, and say what it reads.",
    },
    "bar-y": {
        "command": "Measure check bar Y on the printed sheet with a ruler too: --bar-y MM.",
        "page": 'Measure check bar Y on the printed sheet with a ruler too, and type it in under "Change the answers".',
        "paper": "Measure check bar Y on the printed sheet with a ruler too, and say what it reads.",
    },
    "coupled": {
        "command": "Was the trailer connected? --coupled or --uncoupled.",
        "page": 'Was the trailer connected? Answer it under "Change the answers".',
        "paper": "Was the trailer connected?",
    },
    "laden": {
        "command": "Was the rig laden? --laden or --unladen.",
        "page": 'Was the rig laden? Answer it under "Change the answers".',
        "paper": "Was the rig laden?",
    },
    "level-ground": {
        "command": "Was the ground hard and flat? --level-ground or --unknown-ground.",
        "page": 'Was the ground hard and flat? Answer it under "Change the answers".',
        "paper": "Was the ground hard and flat?",
    },
    "level-control": {
        "command": "Does the vehicle level itself? --level-control or --no-level-control.",
        "page": 'Does the vehicle level itself? Answer it under "Change the answers".',
        "paper": "Does the vehicle level itself?",
    },
    "centre": {
        "command": "Mark the coupling's centre: --centre X,Y, once for each photograph, in pixels of the upright picture; the "
        "rulers on the annotated picture tell them.",
        "page": "Mark the coupling's centre: tap on it in the picture.",
        "paper": "Mark the coupling's centre in the photograph, and measure again.",
    },
    "which-ball": {
        "command": "Say which of them is the ball: --centre X,Y, in pixels of the upright picture.",
        "page": "Say which of them is the ball: choose its letter, or tap on it in the picture.",
        "paper": "Say which of them is the ball, and measure again.",
    },
    "ball-diameter": {
        "command": "Measure the ball with callipers: --ball-diameter MM.",
        "page": 'Measure the ball with callipers, and type it in under "Change the answers".',
        "paper": "Measure the ball with callipers, and say its diameter.",
    },
    "camera": {
        "command": "A lens like this can be calibrated: photomeasure calibrate, then --camera CAMERA.json.",
        "page": "A lens like this can be calibrated, by somebody with the program's command line.",
        "paper": "A lens like this can be calibrated.",
    },
    "other-profile": {
        "command": "Make a profile of this camera with photomeasure calibrate, or leave out --camera.",
        "page": "Somebody with the program's command line can make a profile of this camera.",
        "paper": "Have a profile made of this camera.",
    },
    "kit": {
        "command": "No sheet yet? photomeasure target --out DIR writes it, to print at 100 %.",
        "page": "No sheet yet? The first page has it, to print at 100 %.",
        "paper": "No sheet yet? Ask for it, and print it at 100 %.",
    },
}
TITLES: Mapping[Door, str] = {
    "command": "What I need from you",
    "page": "What I need from you",
    "paper": "What is still needed",
}


def needed(record: Record, door: Door) -> tuple[str, ...]:
    """A line for each thing that only the person can tell, in the words of this door."""
    return tuple(SAID[need.code][door] for need in record.needs)
