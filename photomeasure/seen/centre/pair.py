"""The centre before and after in one call: seen before it was hidden, and carried over by the tags on the tow bar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from calib.words.said import said
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.centre.find import CarriedBy, InPictures, find_centre, in_pictures
from photomeasure.seen.centre.sightings import Sightings, Unseen

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.seen.look import View

_OF_STATE = ("coupled", "laden")


def in_pictures_of_sides(
    request: Request, views: Sequence[View], cameras: Sequence[SolvedCamera]
) -> tuple[InPictures, ...]:
    """What the pictures show of now, and of before where photographs from before are there."""
    if request.before_photos == 0:
        return (in_pictures(request, views, cameras),)
    now, before = sides(request)
    count = len(now.photos)
    return in_pictures(now, views[:count], cameras[:count]), in_pictures(before, views[count:], cameras[count:])


def find_centres(
    request: Request, views: Sequence[View], cameras: Sequence[SolvedCamera], seen: Sequence[InPictures]
) -> Sightings | Unseen:
    """The centre of now, with that of before where photographs from before are there. cameras: of each photograph; seen: of
    each side."""
    if request.before_photos == 0:
        return find_centre(request, views, cameras, seen[0])
    now, before = sides(request)
    count = len(now.photos)
    earlier = find_centre(before, views[count:], cameras[count:], seen[1])
    if isinstance(earlier, Unseen):
        return replace(
            earlier,
            refusal=replace(
                earlier.refusal, reason=said("In the photographs from before: {reason}", reason=earlier.refusal.reason)
            ),
            candidates_px=(*((),) * count, *earlier.candidates_px),
        )
    by = CarriedBy(tags=earlier.bar_tags, whence=f"seen in {' and '.join(path.name for path in before.photos)}")
    found = find_centre(now, views[:count], cameras[:count], seen[0], None if request.state.coupled is False else by)
    if isinstance(found, Unseen):
        return replace(found, candidates_px=(*found.candidates_px, *((),) * len(before.photos)))
    return _joined(found, earlier, count)


def sides(request: Request) -> tuple[Request, Request]:
    """What is asked of the photographs of now, and of those from before: nothing hid the centre, and nobody said more."""
    count = len(request.photos) - request.before_photos
    marks = (*request.centres_px, *(None,) * (len(request.photos) - len(request.centres_px)))
    now = replace(request, photos=request.photos[:count], centres_px=marks[:count], before_photos=0)
    state = replace(request.state, coupled=False, laden=None)
    before = replace(
        request, photos=request.photos[count:], centres_px=marks[count:], before_photos=0, state=state, carried=None
    )
    return now, before


def _joined(seen: Sightings, earlier: Sightings, count: int) -> Sightings:
    """Both sides in one, photographs numbered through, those from before last; only bar tags that both sides show tell more."""
    both = tuple(tag for tag in earlier.bar_tags if tag in seen.bar_tags)
    later = len(earlier.centre_px)
    told = Sightings(
        way=earlier.way,
        centre_px=((None,) * count) + earlier.centre_px,
        points=tuple(replace(view, photo=view.photo + count, before=True) for view in earlier.points),
        tags=tuple(replace(view, photo=view.photo + count, before=True) for view in earlier.tags),
        outlines=tuple(replace(view, photo=view.photo + count, before=True) for view in earlier.outlines),
        bars=tuple(replace(view, photo=view.photo + count, before=True) for view in earlier.bars if view.tag in both),
        bar_tags=both,
        hidden=earlier.hidden,
        centre_tag=earlier.centre_tag,
    )
    return replace(
        seen,
        centre_px=(*seen.centre_px, *earlier.centre_px),
        bars=tuple(view for view in seen.bars if view.tag in both),
        bar_tags=both,
        earlier=told,
        others=tuple(replace(other, centre_px=(*other.centre_px, *(None,) * later)) for other in seen.others),
        checks=(*seen.checks, *earlier.checks),
        contradictions=(*seen.contradictions, *earlier.contradictions),
    )


def told_of_now(views: Sequence[View]) -> tuple[View, ...]:
    """The views without what was ticked before of a state that has changed since."""
    return tuple(
        replace(view, answers=tuple(answer for answer in view.answers if answer.question not in _OF_STATE))
        if view.before
        else view
        for view in views
    )
