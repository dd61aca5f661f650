"""`photomeasure bay`: photographs, tapes and spots on the ground to a bay file that `measure --bay` uses."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import figures, say
from photomeasure.bay.made import BayOptions, bay_of, sightings_of
from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_REFUSED

if TYPE_CHECKING:
    from calib.outcome.refusal import Refusal
    from calib.survey.data import Surveyed


def run(options: BayOptions) -> int:
    """Solve the survey, write the bay, say how good it is; exit code 0, or 3 where it is refused.

    Raises InputError where the survey file or a path is wrong.
    """
    from calib.outcome.files import check_output, write_output
    from calib.outcome.refusal import Refusal
    from calib.survey.solve import solve_survey
    from photomeasure.bay.survey_file import load_survey_file
    from photomeasure.commands.progress import waiting

    check_output(options.out, "bay", _inputs(options))
    survey = load_survey_file(options.survey)
    with waiting(say("Looking for markers")):
        seen = sightings_of(options, survey.dictionary)
    if isinstance(seen, Refusal):
        return _refused(seen)
    sightings, camera, unread = seen
    with waiting(say("Solving the survey")):
        surveyed = solve_survey(survey.survey(sightings), camera.mean, camera.basis @ camera.basis.T)
    if isinstance(surveyed, Refusal):
        return _refused(surveyed)
    bay = bay_of(surveyed, survey)
    if isinstance(bay, Refusal):
        return _refused(bay)
    write_output(options.out, bay.model_dump_json(by_alias=True, indent=1) + "\n", _inputs(options))
    left_out = (say("Left out:   {reason}", reason=reason) for reason in unread)
    print("\n".join([*report(surveyed, options.out), *left_out]))
    return EXIT_DONE


def _inputs(options: BayOptions) -> list[Path]:
    return [*options.photos, options.survey, *([options.camera] if options.camera is not None else [])]


def report(surveyed: Surveyed, path: Path) -> list[str]:
    """What the survey found, in lines for a terminal."""
    lines = [
        say("Bay file:   {path}", path=path),
        say(
            "Markers:    {markers}, from {photographs} photographs; a corner's coordinate is known to {u_mm:.1f} mm "
            "(standard uncertainty)",
            markers=len(surveyed.markers),
            photographs=len(surveyed.cam_from_bay),
            u_mm=surveyed.u_mm(),
        ),
        say(
            "Pixels:     one coordinate of a corner scatters by {noise_px:.2f} px; edges are seen {inset:.2f} ± "
            "{u:.2f} px inside their places, which is allowed for",
            noise_px=surveyed.noise_px,
            inset=surveyed.inset_px[0],
            u=surveyed.inset_px[1],
        ),
        say("Tapes (taped, solved, difference, mm):"),
    ]
    for check in surveyed.tapes:
        mark = say("  <- tape it again") if check.suspicious else ""
        numbers = figures(f"{check.tape.distance_mm:9.1f}{check.solved_mm:10.1f}{check.residual_mm:+8.1f}")
        lines.append(f"  {check.tape.name:<20}{numbers}{mark}")
    lines += [say("Left out:   {reason}", reason=reason) for reason in surveyed.left_out]
    lines += [say("Warning:    {sentence}", sentence=sentence) for sentence in surveyed.warnings]
    lines.append(
        say("Check one height in the bay with a tape before it is used, and again whenever a marker was touched.")
    )
    return lines


def _refused(refusal: Refusal) -> int:
    print(say("Cannot survey: {reason}", reason=refusal.reason), file=sys.stderr)
    print(say("  Next:     {remedy}", remedy=refusal.remedy), file=sys.stderr)
    return EXIT_REFUSED
