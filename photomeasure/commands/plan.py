"""`photomeasure plan SETUP.toml`: read the setup, make the plan, print it, write what was asked for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import said, say

if TYPE_CHECKING:
    from photomeasure.rig.setup import Setup
    from photomeasure.rig.target import Target

DRAWING_NAME, DOCUMENT_NAME, REPORT_NAME = "plan.svg", "plan.json", "plan.pdf"


def plan(setup: Path, json_file: Path | None, out: Path | None) -> int:
    """Plan a rig from a setup file; return the exit code 0.

    json_file:  where to write the plan as JSON; None: nowhere.
    out:        folder for plan.pdf (report), plan.svg (side view to scale) and plan.json; None: nowhere.
                Files come before the terminal, so that a pipe that closes early costs none of them.
    Raises InputError (exit code 2) for a setup, rule or record that cannot be used, or a file that cannot be
    written.
    """
    import json
    from datetime import UTC, datetime

    import numpy as np
    from rich.console import Console

    from calib.outcome.files import check_output, write_output
    from photomeasure.commands.output import check_json, to_standard_output, write_json
    from photomeasure.commands.progress import waiting
    from photomeasure.rig.document import plan_document
    from photomeasure.rig.drawing import plan_drawing
    from photomeasure.rig.earlier import refuse_other_plan
    from photomeasure.rig.plan import make_plan
    from photomeasure.rig.setup_file import load_setup
    from photomeasure.rig.shapes import to_svg
    from photomeasure.rig.text import print_plan
    from photomeasure.shown.report.plan import plan_pdf

    if json_file is not None:
        check_json(json_file, "plan", [setup])
    if out is not None:
        for name, kind in ((DOCUMENT_NAME, "plan"), (DRAWING_NAME, "drawing"), (REPORT_NAME, "report")):
            check_output(out / name, kind, [setup])
    wanted = load_setup(setup)
    for there in (None if to_standard_output(json_file) else json_file, None if out is None else out / DOCUMENT_NAME):
        if there is not None:
            refuse_other_plan(there, wanted)
    targets = _targets(wanted, setup.parent)
    with waiting(say("Planning")):
        made = make_plan(wanted, targets[0], np.random.default_rng(wanted.monte_carlo.seed), empty_target=targets[1])
    written = json.dumps(plan_document(made), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    console = Console()
    try:
        if json_file is not None:
            write_json(json_file, written, [setup])
        if out is not None:
            write_output(out / DOCUMENT_NAME, written)
            write_output(out / DRAWING_NAME, to_svg(plan_drawing(made)))
            write_output(out / REPORT_NAME, plan_pdf(made, datetime.now(UTC).isoformat(timespec="seconds")))
    finally:  # a file that cannot be written is no reason to keep the plan back
        if not to_standard_output(json_file):
            print_plan(made, console)
    if out is not None and not to_standard_output(json_file):
        names = ", ".join(str(out / name) for name in (REPORT_NAME, DRAWING_NAME, DOCUMENT_NAME))
        console.print("\n" + say("Written: {names}", names=names), markup=False, soft_wrap=True)
    return 0


def needed(setup: Path | None, vehicle: Path | None, trailer: Path | None) -> Path:
    """Return the setup that was named; raise InputError where none was, or where records were named without --template."""
    from calib.outcome.errors import InputError

    if setup is None:
        raise InputError(
            said("No setup file was named."),
            expected=said("photomeasure plan SETUP.toml"),
            remedy=said("photomeasure plan SETUP.toml --template writes one to begin with"),
        )
    if vehicle is not None or trailer is not None:
        raise InputError(
            said("--vehicle and --trailer begin a new setup."),
            expected=said("them only with --template"),
            remedy=said("name a record in the setup itself: {form}", form='ball_height = { record = "ball.json" }'),
        )
    return setup


def begin(setup: Path | None, vehicle: Path | None, trailer: Path | None) -> int:
    """Write a commented setup to begin with, to a file that is not there yet or to the standard output; return 0.

    Raises InputError for a file that is there already, and for records that cannot be used.
    """
    import sys

    from calib.outcome.errors import InputError
    from calib.outcome.files import write_output
    from photomeasure.rig.template import template

    text = template(Path() if setup is None else setup.parent, vehicle=vehicle, trailer=trailer)
    if setup is None:
        sys.stdout.write(text)
        return 0
    if setup.exists():
        raise InputError(
            said("{setup} is there already.", setup=setup),
            expected=said("the name of a file that is to be written"),
            remedy=said("choose another name, or move that file away first"),
        )
    write_output(setup, text)
    print(say("Written: {setup}. Change its figures, then: photomeasure plan {setup}", setup=setup))
    return 0


def _targets(setup: Setup, folder: Path) -> tuple[Target, Target | None]:
    """Return the bands to plan for: of the way there, and of the way back with the trailer empty.

    A rule file's path is relative to the setup's folder.
    """
    from photomeasure.rig.target import target_of
    from photomeasure.rules import available_rules, load_rule

    name = setup.rule.name
    beside = folder / name
    rule = load_rule(str(beside) if name not in available_rules() and beside.is_file() else name)

    def target(laden: bool) -> Target:
        return target_of(rule, laden=laden, level_control=setup.vehicle.level_control, confidence=setup.rule.confidence)

    laden = setup.vehicle.laden_on_the_way
    return target(laden), None if setup.empty is None else target(laden and setup.empty.vehicle_laden)
