"""Cautions for everywhere that people read a result or prepare a photograph: the facts in our own words.

Sources, all read: ACCC Product Safety and WorkSafe Queensland (hard level ground, brakes, chocks, jacks), UK
Caravan Towing Code (nobody between vehicle and trailer).
"""

from __future__ import annotations

from calib.words.said import said

CAUTIONS = (
    said(
        "Stand the rig on hard, level ground. Set the brakes of vehicle and trailer and chock the wheels "
        "before anything is raised, uncoupled or adjusted."
    ),
    said(
        "Keep every part of the body out from under a vehicle or trailer that only a jack or jockey "
        "wheel holds up; caravan and trailer jacks count as jacks."
    ),
    said(
        "Nobody stands between vehicle and trailer. People, sheet and phone stay beside the rig, hands "
        "out of the coupling."
    ),
    said(
        "A photograph sorts out which rigs to look at; it certifies nothing. Confirm with a tape. Local "
        "codes, the ratings of vehicle and coupling, and licensed people decide."
    ),
)

SHORTER = said(
    "Level ground, brakes on, wheels chocked; never under a jack, never between vehicle and trailer; "
    "confirm with a tape."
)
