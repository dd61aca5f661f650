"""The commands as the program's own help lists them, so that only the command that is typed is loaded.

The order is that of the list. A module of `verbs/` that is not named here joins all the same, behind the others: it is loaded to
see which commands it has. Names, headings and lines are held against the commands themselves in `tests/cli/test_loaded.py`.
"""

from __future__ import annotations

from typing import NamedTuple

from calib.words.said import said

# headings of the list of commands, in their order
MEASURE, PREPARE, RECORDS, HELP = said("Measure"), said("Prepare"), said("Records and evidence"), said("Help")


class Listed(NamedTuple):
    """One line of the list. module: of `verbs/`, where it has another name than the command."""

    panel: str
    help: str
    module: str = ""


LISTED: dict[str, Listed] = {
    "target": Listed(
        PREPARE,
        help="Write the kit to print: instructions, upright sheet, ground sheet, centre tags, bar tags.",
    ),
    "kit": Listed(
        PREPARE,
        help="Prints of the kit: remember what the check bars of one read, or read them off by a card.",
    ),
    "calibrate": Listed(
        PREPARE,
        help="Calibrate a camera from photographs of the kit's upright sheet, a chessboard or a ChArUco board.",
    ),
    "bay": Listed(
        PREPARE,
        help="Survey the markers of a measuring bay from photographs, tape distances and points on the ground.",
    ),
    "measure": Listed(
        MEASURE,
        help="Measure the coupling centre's height, with its interval, verdict and what to do next.",
    ),
    "batch": Listed(
        MEASURE,
        help="Measure many rigs: one record each, one table. Run again, it goes on where it stopped.",
    ),
    "level": Listed(
        MEASURE,
        help="Measure how level a trailer stands: the pitch of its rail against the ground under it, with its interval.",
    ),
    "plan": Listed(
        MEASURE,
        help="Plan a rig before pick-up: coupled height, pitch, loads, and which drop or rise puts it right.",
    ),
    "serve": Listed(
        MEASURE,
        help="Measure on a page in a browser, on this machine or on a phone in its network, until Ctrl-C.",
    ),
    "tape": Listed(
        RECORDS,
        help="Add a tape's reading to a record later: judged by the same rule, compared, kept. Takes no photographs.",
    ),
    "verify": Listed(
        RECORDS,
        help="Measure again from the photographs that a record names, and compare every figure; check the seal of a case.",
    ),
    "report": Listed(
        RECORDS,
        help="One case, one PDF: a cover with every rig and its verdict, one page a rig, an annex with budgets and digests.",
    ),
    "seal": Listed(
        RECORDS,
        help="Seal the records of a case: every byte of them, their order and their number, signed with your key.",
        module="key",
    ),
    "key": Listed(RECORDS, help="A key of your own, with which records are sealed."),
    "audit": Listed(
        RECORDS,
        help="Photographs against tapes so far: bias, RMS, En, coverage, Birge ratio, in words, and what to do.",
    ),
    "guide": Listed(HELP, help="Read a guide: measuring, rules, many-rigs, customers, planning, level, cameras, records."),
    "rules": Listed(
        HELP,
        help="List the rules that are built in, or show one: bands and their states, source, edition, confidence, notes.",
    ),
    "schema": Listed(
        HELP,
        help="Print the JSON Schema of a file that this program reads or writes, for editors and for programs of your own.",
    ),
    "settings": Listed(HELP, help="Show the defaults in force and the files that they come from."),
}  # fmt: skip
