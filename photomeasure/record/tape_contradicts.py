"""What is said where photograph and tape contradict each other: both figures, and what to repeat first."""

from __future__ import annotations

from collections.abc import Mapping

from calib.words.said import said
from photomeasure.record.schema import Record, TapePart, VerdictWord
from photomeasure.uncertainty.printed import printed

_PLACES: Mapping[VerdictWord, str] = {
    "within": said("within the band"),
    "above": said("above the band"),
    "below": said("below the band"),
    "undecided": said("too close to an end of the band to call"),
    "no-band": said("no band applies"),
}
# a sheet printed smaller than stated makes every height come out larger by the same share; usual shrinks are 2 to 7 %
_SHRUNK = (1.015, 1.08)


def sentence_of(record: Record, tape: TapePart) -> str:
    """Both figures, each with its place against the band."""
    photo = _placed(_figure(record.height_mm or 0.0, record.U_mm or 0.0), record.verdict)
    taped = _placed(_figure(tape.centre_mm, 2.0 * tape.u_mm), tape.verdict)
    if tape.agrees:
        return said(
            "Photograph and tape fall on different sides of an end of the band: the photograph gives "
            "{photo}, the tape {taped}. Both may be right about the height, so the verdict is open.",
            photo=photo,
            taped=taped,
        )
    return said(
        "Photograph and tape disagree: the photograph gives {photo}, the tape {taped}. At least one of "
        "them is wrong, and neither counts until that is settled.",
        photo=photo,
        taped=taped,
    )


def advice_of(record: Record, tape: TapePart) -> list[str]:
    """What to repeat, in order, the quickest first; nothing is to be lowered or raised on such figures."""
    if tape.agrees:
        return [
            said(
                "Change nothing yet: measure more exactly first, with the tape and with photographs from nearer "
                "and lower."
            )
        ]
    return [
        said(
            "Change nothing on the rig yet. First read the tape again: from the ground straight below the "
            "coupling, held upright, by a second person if there is one."
        ),
        *_likely(record, tape),
        said("Make sure that nothing was moved, loaded, coupled or raised between the photograph and the tape."),
        said(
            "If the tape repeats itself, measure the check bars with a ruler, stand the sheet upright under "
            "the coupling and photograph again."
        ),
        said("If the two still disagree, go by the tape, read twice."),
    ]


def _likely(record: Record, tape: TapePart) -> list[str]:
    """A mistake that would explain just this difference."""
    if tape.difference_mm is None or record.height_mm is None or record.U_mm is None:
        return []
    allowed = (record.U_mm**2 + 4.0 * tape.u_mm**2) ** 0.5
    radius = 25.0 if record.asked is None else record.asked.ball_diameter_mm / 2.0
    found = []
    if tape.from_ == "middle" and record.state.coupling != "pin" and abs(tape.difference_mm + radius) <= allowed:
        found.append(
            said(
                "The tape is higher by about half the ball's diameter ({radius:g} mm): was it read to the top of "
                "the ball? Then say so, and the program takes it off.",
                radius=radius,
            )
        )
    if _SHRUNK[0] <= record.height_mm / tape.centre_mm <= _SHRUNK[1]:
        percent = 100.0 * (record.height_mm / tape.centre_mm - 1.0)
        found.append(
            said(
                "The photograph is {percent:.0f} % higher, as it is where the sheet was printed smaller than "
                "stated: were both check bars measured with a ruler?",
                percent=percent,
            )
        )
    return found


def _figure(height_mm: float, U_mm: float) -> str:
    return printed(height_mm, (height_mm - U_mm, height_mm + U_mm)).text


def _placed(figure: str, verdict: VerdictWord | None) -> str:
    if verdict is None or verdict not in _PLACES:
        return figure
    return said("{figure} ({place})", figure=figure, place=_PLACES[verdict])
