"""What a customer is asked for once more: sentences that are sent with one tap, and the coach's as a customer reads them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from calib.words.said import Said, said

USUAL = (
    said("Please take the cap off the ball, and photograph it again."),
    said("Please take one more from about one big step further to the right, with nothing moved."),
    said("Please lay the second sheet flat on the ground in front of the one that stands, and photograph it again."),
    said("Please photograph it again with the trailer not hitched."),
    said("Please photograph it again, loaded as it will be on the road."),
)
# By the beginning of the coach's template (`interval/coach`); what is not here is no matter of another photograph. A test walks them.
_BY_COACH: Mapping[str, Callable[..., str]] = {
    "Hold the phone about {m:.1f} m lower": lambda **values: said(
        "Please hold the phone about {m:.1f} m lower, with the lens level with the coupling, and photograph it again.",
        **values,
    ),
    "Hold the phone about {m:.1f} m higher": lambda **values: said(
        "Please hold the phone about {m:.1f} m higher, with the lens level with the coupling, and photograph it again.",
        **values,
    ),
    "Go nearer": lambda **values: said(
        "Please go nearer, and photograph it again from about {good_distance_mm:.1f} m instead of {away:.1f} m.",
        **values,
    ),
    "Take another photograph": lambda **values: said(
        "Please take another photograph from about 0.9 m further {way}, with the lens at the coupling's height, nothing else moved.",
        **values,
    ),
    "Lay the ground sheet": lambda **values: said(
        "Please lay the ground sheet flat in front of the upright sheet, and photograph it again.", **values
    ),
    "Stand the sheet right under": lambda **values: said(
        "Please stand the sheet right under the coupling (it is {centre:.0f} cm to the side), and photograph it again.",
        **values,
    ),
    "Send the photograph": lambda **values: said(
        "Please send the photograph as a file at its full size, not through a chat program.", **values
    ),
}


def asks_of(coach: Iterable[str]) -> tuple[str, ...]:
    """What can be asked for with one tap: first what the coach says of these photographs, without what it would bring."""
    return (*_of_coach(coach), *USUAL)


def _of_coach(coach: Iterable[str]) -> Iterator[str]:
    for sentence in coach:
        what = sentence.values.get("sentence") if isinstance(sentence, Said) else None
        if isinstance(what, Said):
            told = next((told for begin, told in _BY_COACH.items() if what.template.startswith(begin)), None)
            if told is not None:
                yield told(**what.values)
