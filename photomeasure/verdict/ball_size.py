"""A ball that does not look of the size that counts for it: a head that is for another ball lets go, or does not close."""

from __future__ import annotations

from calib.words.said import said
from photomeasure.scene.ball_sizes import SizeSeen, fitting, off_sigmas
from photomeasure.verdict.state_of_band import Difference

NOTICE_SIGMAS = (
    2.1  # one true ball in 28 (5 of 119 rendered), half of them smaller: a head that comes off is worth the question
)


def of_ball_size(size: SizeSeen | None, stated_mm: float) -> tuple[str, ...]:
    """One sentence where the ball looks larger or smaller than stated, with both explanations; none where it does not.

    What a picture shows is the ball over the print: a ball that looks small may as well be a print that is large.
    """
    if size is None or abs(off := off_sigmas(size, stated_mm)) < NOTICE_SIGMAS:
        return ()
    like = [one for one in fitting(size, NOTICE_SIGMAS) if (one < stated_mm) == (off < 0.0)]
    seen = said(
        "The ball looks {diameter_mm:.1f} mm across (\N{PLUS-MINUS SIGN} {U_mm:.1f}), where {stated_mm:g} mm counts",
        diameter_mm=size.diameter_mm,
        U_mm=2.0 * size.u_mm,
        stated_mm=stated_mm,
    )
    if like:
        seen = said("{seen}: like a ball of {like_mm:g} mm", seen=seen, like_mm=like[0])
    percent = 100.0 * abs(stated_mm / size.diameter_mm - 1.0)
    if off < 0.0:
        return (
            said(
                "{seen}. A head that is made for a larger ball can come off a smaller one on the road. Read the size that is "
                "stamped on the ball and on the head, or measure the ball with callipers, before anything is connected. Or the "
                "print is larger than it counts for, by about {percent:.0f} %: measure both check bars again.",
                seen=seen,
                percent=percent,
            ),
        )
    return (
        said(
            "{seen}. A head that is made for a smaller ball does not close over a larger one. Read the size that is stamped on the "
            "ball and on the head, or measure the ball with callipers, before anything is connected. Or the print is smaller "
            "than it counts for, by about {percent:.0f} %: measure both check bars again.",
            seen=seen,
            percent=percent,
        ),
    )


def doubts_of_size(sentences: tuple[str, ...]) -> tuple[Difference, ...]:
    """A ball of another size, or a print of another scale: until it is known which, no verdict is sure."""
    return tuple(
        Difference(
            why=said("The ball does not look of the size that counts for it (see the notes)."),
            remedy=said(
                "Before anything is connected, read the size that is stamped on the ball and on the head. Then measure both check "
                "bars, say what they and the ball are, and measure again."
            ),
        )
        for _ in sentences
    )
