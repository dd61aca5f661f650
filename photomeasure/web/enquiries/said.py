"""What a customer is told of a photograph, in one sentence that can be acted on: no figures, no words of ours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from calib.words.said import Said, said
from photomeasure.web.enquiries.enquiry import Looked

if TYPE_CHECKING:
    from photomeasure.pipeline import Result
    from photomeasure.seen.look import Refused

_WHOLE = said("The printed sheet cannot be seen well. Get the whole sheet into the picture, sharp, and take it again.")
_CLOSER = said("Closer: the sheet is too small in the picture. Go to about two big steps from it.")
_ALONE = said(
    "This one does not go with how a rig stands. Stand straight in front, two big steps away, and take it again."
)
_FILE = said("This file did not arrive as the camera saved it. Take the photograph again, or choose the original.")

# By what stopped the measurement. What is not here can be used, and somebody will mark the coupling in it by hand.
_NOT_USABLE: Mapping[str, str] = {
    "no-sheet": said(
        "The printed sheet was not found. Get all of it into the picture, upright and facing you, and hold the phone still."
    ),
    "no-upright-sheet": said(
        "The sheet that stands up was not found, only the one on the ground. Stand it under the coupling, facing you."
    ),
    "sheet-unclear": _WHOLE,
    "sheet-too-small": _CLOSER,
    "too-small": said("This is only a small copy. Send the photograph as the camera saved it."),
    "too-faint": said(
        "Black and white of the sheet can hardly be told apart. Find better light, or turn the sheet out of the glare."
    ),
    "too-oblique": said("You stand too far to one side. Go straight in front of the sheet."),
    "too-blurred": said(
        "It is blurred. Wipe the lens, hold the phone with both hands, tap on the sheet, wait until it is sharp."
    ),
    "ultra-wide": said("It was taken with the wide lens. Set the camera to 1x and take it again."),
    "mirrored": said("It is mirrored. Use the camera on the back of the phone."),
    "edited": said("It was changed after it was taken. Send it as the camera saved it."),
    "sheet-turned": said("The sheet lies on its side or stands on its head. Stand it with its arrow pointing up."),
    "sheet-leans": said("The sheet leans. Tape it flat to something square that stands on the ground."),
    "below-foot-line": said(
        "The sheet stands on its head, or too high. Stand it on the ground with its arrow pointing up."
    ),
    "two-kits": said(
        "More printed sheets are in it than can be told apart. Leave one upright sheet there, the same in all photographs."
    ),
    "two-tags": said("Two different tags are in it. Leave one on the coupling."),
    "unreadable": _FILE,
    "truncated": _FILE,
    "damaged": _FILE,
    "too-large": said("It is too large. Use the camera's ordinary photo mode."),
    "no-solution": _ALONE,
    "photos-contradict": _ALONE,
    "too-uncertain": said("Nearly: go nearer, and stand the sheet close to the coupling."),
}
_BY_HAND: Mapping[str, str] = {
    "ball-not-found": said(
        "The sheet is found, the ball not surely. If a cap is on the ball, take it off; else send it as it is."
    ),
    "ball-ambiguous": said("The sheet is found; more than one thing could be the ball. It can be sent as it is."),
    "no-centre": said("The sheet is found. It can be sent as it is."),
}
# By the coach's keys; empty: with the coach's own figure. Others ask for more than another photograph from elsewhere.
_BETTER: Mapping[str, str] = {
    "lens-height": "",
    "closer": said("go nearer, to about two big steps from the sheet"),
    "sheet-place": said("stand the sheet nearer to the coupling"),
    "full-size": said("send the photograph as the camera saved it, not a copy out of a chat"),
}
_IS_IT = said("The sheet is found. Is the ring around the ball?")
_GOOD_BALL, _GOOD = said("Good: sheet and ball found."), said("Good: sheet and coupling found.")


def said_of(outcome: Result | Refused) -> Looked:
    """What to tell of one photograph that was looked at by itself."""
    from photomeasure.seen.look import Refused

    if isinstance(outcome, Refused):
        code = outcome.refusal.code
        if code in _NOT_USABLE:
            return Looked(worth="not-usable", sentence=_NOT_USABLE[code])
        return Looked(
            worth="could-be-better",
            sentence=_BY_HAND.get(code, said("It can be sent as it is, and will be looked at.")),
        )
    found = _GOOD_BALL if outcome.sightings.way == "ball" else _GOOD
    better = _better(outcome)
    if better is None:
        return Looked(worth="good", sentence=found)
    return Looked(worth="could-be-better", sentence=said("{found} Better still: {better}.", found=found, better=better))


def with_answer(looked: Looked, is_ball: bool) -> Looked:
    """After the customer has said whether the ring is around the ball."""
    if is_ball:
        return replace(looked, worth="good", sentence=_GOOD_BALL, is_ball=True)
    return replace(looked, sentence=_BY_HAND["ball-not-found"], is_ball=False)


def asking(looked: Looked, px: tuple[float, float], u_px: float) -> Looked:
    """The same with a question: what could be the ball."""
    return replace(looked, sentence=_IS_IT, px=px, u_px=u_px)


def _better(result: Result) -> str | None:
    """What would help most, of what the person who holds the phone can change by the next photograph."""
    from photomeasure.interval.coach import GOOD_ENOUGH_U_MM, NEAR_MM, suggestions
    from photomeasure.solution.scene_of import ground_of

    upright = result.views[0].finding.of_role("upright")
    if upright is None or result.expanded.U_mm <= GOOD_ENOUGH_U_MM:
        return None
    for one in suggestions(result.estimate, upright.sheet.paper, ground_of(result.request, NEAR_MM)):
        if one.key in _BETTER:
            return _BETTER[one.key] or _lens_height(one.sentence)
    return None


def _lens_height(sentence: str) -> str | None:
    """The coach's own sentence of the lens, as it is told within another one."""
    if not isinstance(sentence, Said):
        return None
    if "higher" in sentence.template:
        return said("hold the phone about {m:.1f} m higher, the lens level with the coupling", **sentence.values)
    return said("hold the phone about {m:.1f} m lower, the lens level with the coupling", **sentence.values)
