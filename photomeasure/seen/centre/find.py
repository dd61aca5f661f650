"""The coupling's centre as it was seen: by a pick, by a centre tag, by the ball's outline; and which of them is trusted.

Order of trust: what a person marked, then a tag that a person stuck on, then the ball that the program found; a mark on
what hides the centre comes after the tag, for a tag was stuck on with the coupling at hand. The others that are there are
compared, never averaged. A new way of finding the centre is a module beside this one and a step in `BY_PEOPLE`,
the least trusted last, or beside the ball's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calib.finding.sheets import apply_homography
from calib.kit.kit import bar_tag_codes
from calib.outcome.refusal import Refusal
from calib.words.said import said, with_and, with_or
from photomeasure.scene.ball_sizes import mistaken_for
from photomeasure.scene.scene import OutlineView, PlaneName, PlaneView, PointView
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.beside import beside
from photomeasure.seen.centre.compared import compared
from photomeasure.seen.centre.sightings import Sightings, Unseen
from photomeasure.seen.centre.tag.tag import TagSeen, find_tags, the_centre_tag

if TYPE_CHECKING:
    from photomeasure.asked.request import Request
    from photomeasure.seen.look import View

CAMERA_SHAPES, SHAPE_SHARE = (4 / 3, 16 / 9, 3 / 2, 1.0), 0.01  # long side over short: as phones and cameras offer them
MARK_ON_NO_BALL = said(
    "The mark counts as the vehicle's ball, for no trailer was said to be connected; but no ball was found there. Is it on a trailer's "
    "own coupling head? That is another height, for which another rule holds."
)
_FINAL = ("centre-outside", "two-tags", "bar-tag-not-found")  # nothing less trusted is taken instead


@dataclass(frozen=True, slots=True, kw_only=True)
class InPictures:
    """What the pictures show of the centre whatever anybody marks: tags of each photograph, bar tags by id, the bare ball."""

    tags: tuple[tuple[TagSeen, ...], ...]
    bars: tuple[Mapping[int, TagSeen], ...] | Refusal
    ball: Sightings | Unseen | None


def in_pictures(request: Request, views: Sequence[View], cameras: Sequence[SolvedCamera]) -> InPictures:
    """Look for tags and ball. cameras: of each photograph."""
    with beside(partial(_tags, views, cameras)) as tagged:  # not the ball: its networks are this thread's own
        ball = _balls(request, views, cameras)
        tags = tagged()
    bars = _bar_tags(tags, views)
    return InPictures(tags=tags, bars=bars, ball=None if isinstance(bars, Refusal) else ball)


def _tags(views: Sequence[View], cameras: Sequence[SolvedCamera]) -> tuple[tuple[TagSeen, ...], ...]:
    """Every centre tag and bar tag of each photograph."""
    return tuple(
        find_tags(
            view.photo.grey,
            intrinsics=camera.intrinsics,
            rotation=camera.cam_from_world,
            translation=camera.world_in_cam_mm,
        )
        for view, camera in zip(views, cameras, strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedBy:
    """tags: bar tags by which the centre may be carried over, the first one first; whence: who tells, in words."""

    tags: tuple[int, ...]
    whence: str


def find_centre(
    request: Request,
    views: Sequence[View],
    cameras: Sequence[SolvedCamera],
    seen: InPictures | None = None,
    carried_by: CarriedBy | None = None,
) -> Sightings | Unseen:
    """The centre from the most trusted way that is there. cameras: of each photograph; seen:
    what the pictures show, where it is known already; carried_by: in place of the record that the request names."""
    if carried_by is None and request.carried is not None:
        carried_by = CarriedBy(tags=request.carried.tags, whence=request.carried.record)
    seen = in_pictures(request, views, cameras) if seen is None else seen
    bars, ball = seen.bars, seen.ball
    if isinstance(bars, Refusal):
        return Unseen(refusal=bars)
    of_people = [partial(way, request, views, seen) for way in BY_PEOPLE]
    ways = [partial(_carried, carried_by, bars), *(reversed(of_people) if _is_hidden(request) else of_people)]
    trusted: Sightings | None = None
    unseen: Unseen | None = None
    for way in ways:
        found = way()
        if isinstance(found, Unseen):
            if trusted is None and (unseen is None or unseen.refusal.code == "ball-not-found"):
                unseen = found
            if found.refusal.code in _FINAL and trusted is None:
                return found
        elif found is not None:
            trusted = found if trusted is None else compared(trusted, found, cameras)
    if _is_hidden(request):
        if isinstance(ball, Sightings):
            if trusted is None:
                return Unseen(refusal=_no_centre(request, _bare_in(ball, views)))
            trusted = replace(trusted, contradictions=(*trusted.contradictions, f"{_bare_in(ball, views)}."))
    elif trusted is None:
        if isinstance(ball, Sightings):
            trusted = ball
        elif ball is not None and (unseen is None or unseen.refusal.code == "ball-not-found"):
            unseen = ball
    else:
        trusted = _beside_the_ball(trusted, ball, request, cameras)
    if trusted is None:
        return unseen or Unseen(refusal=_no_centre(request))
    return _with_bars(trusted, bars, None if carried_by is None else carried_by.tags)


def _with_bars(
    sightings: Sightings, bars: Sequence[Mapping[int, TagSeen]], wanted: tuple[int, ...] | None
) -> Sightings:
    """With the views of the tags on the tow bar; wanted: those that count, in this order; None: all that are seen."""
    seen = {tag for in_photo in bars for tag in in_photo}
    order = tuple(sorted(seen, key=lambda tag: (-sum(tag in in_photo for in_photo in bars), tag)))
    ids = tuple(tag for tag in wanted if tag in seen) if wanted is not None else order
    views = tuple(
        replace(view, tag=tag)
        for tag in ids
        for view in _tag_views([in_photo.get(tag) for in_photo in bars], "bar-tag", "bar tag corners")
    )
    return replace(sightings, bars=views, bar_tags=ids)


def _bar_tags(tags: Sequence[tuple[TagSeen, ...]], views: Sequence[View]) -> tuple[dict[int, TagSeen], ...] | Refusal:
    """The bar tags of each photograph by their ids; refused where one is there twice."""
    found: list[dict[int, TagSeen]] = []
    for in_photo, view in zip(tags, views, strict=True):
        bars = [tag for tag in in_photo if tag.id in bar_tag_codes()]
        found.append({tag.id: tag for tag in bars})
        if len(bars) > len(found[-1]):
            twice = next(tag.id for tag in bars if sum(other.id == tag.id for other in bars) > 1)
            return Refusal(
                code="two-tags",
                reason=said(
                    "Bar tag {tag} is in {photo} twice: which of them is on the tow bar cannot be told.",
                    tag=twice,
                    photo=view.photo.path.name,
                ),
                remedy=said("Leave one of each number in the picture: the printed page holds tags of several numbers."),
            )
    return tuple(found)


def _is_hidden(request: Request) -> bool:
    """Whether it was said that something hides the centre: a pin's bush, or the head of a coupled ball."""
    return request.coupling == "pin" or request.state.coupled is True


def _bare_in(ball: Sightings, views: Sequence[View]) -> str:
    names = [view.photo.path.name for view, px in zip(views, ball.centre_px, strict=True) if px is not None]
    return said(
        "A bare ball is in plain sight in {names}, though the rig was said to be coupled", names=with_and(names)
    )


def _beside_the_ball(
    trusted: Sightings, ball: Sightings | Unseen | None, request: Request, cameras: Sequence[SolvedCamera]
) -> Sightings:
    """The trusted sightings compared with the ball; a mark on no bare ball, where nobody said that it is bare, is a mark on a head."""
    beside = compared(trusted, ball, cameras) if isinstance(ball, Sightings) else trusted
    on_the_ball = isinstance(ball, Sightings) and _marks_the_ball(trusted, ball)
    if trusted.way != "pick" or request.coupling != "ball-50" or on_the_ball:
        return beside
    if request.state.coupled is False:
        near = ball is None or (isinstance(ball, Unseen) and _marks_a_likely_one(trusted, ball, request, cameras))
        return beside if near else replace(beside, remarks=(*beside.remarks, MARK_ON_NO_BALL))
    return replace(
        beside,
        hidden=True,
        checks=(
            *beside.checks,
            said(
                "No bare ball was found at the mark, and nobody said that no trailer is connected: the mark "
                "counts as one on a head that hides the ball."
            ),
        ),
    )


def _marks_a_likely_one(mark: Sightings, ball: Unseen, request: Request, cameras: Sequence[SolvedCamera]) -> bool:
    """Whether the centre was marked on something that may be the ball, though the program is not sure of it."""
    for px, likely, camera in zip(mark.centre_px, ball.candidates_px, cameras, strict=False):
        radius_px = camera.intrinsics[0] * request.ball_diameter_mm / 2 / float(np.linalg.norm(camera.lens_mm))
        if px is not None and any(np.linalg.norm(px - one) < radius_px for one in likely):
            return True
    return False


def _marks_the_ball(mark: Sightings, ball: Sightings) -> bool:
    """Whether the centre was marked inside the ball's outline, in a photograph that has both."""
    for view in ball.outlines:
        px, middle = mark.centre_px[view.photo], ball.centre_px[view.photo]
        if px is not None and middle is not None:
            radius_px = float(np.linalg.norm(view.px - middle, axis=1).mean())
            if np.linalg.norm(px - middle) < radius_px:
                return True
    return False


def _no_centre(request: Request, bare: str | None = None) -> Refusal:
    if bare is not None:
        return Refusal(
            code="no-centre",
            reason=said("{bare}; no mark and no centre tag was found.", bare=bare),
            remedy=said(
                "Say that no trailer is connected if that is so and the ball is this rig's, or stick a centre "
                "tag on the coupling's side and photograph again; or mark the centre in each photograph."
            ),
        )
    if request.coupling == "pin":
        hidden = said("a pin's bush has no outline to find")
    elif request.state.coupled is True:
        hidden = said("the head of a coupled ball hides it")
    else:
        hidden = said("in a bay a bare ball is not looked for")
    return Refusal(
        code="no-centre",
        reason=said("The coupling's centre is not marked in the picture, and {hidden}.", hidden=hidden),
        remedy=said(
            "Stick a centre tag on the coupling's side, its middle at the height of the centre, and "
            "photograph again; or mark the centre in each photograph."
        ),
    )


def _picked(request: Request, views: Sequence[View], _: InPictures) -> Sightings | Unseen | None:
    """Picks of a person; a pick outside its picture is refused."""
    points = []
    centres: list[NDArray[np.float64] | None] = [None] * len(views)
    for photo, centre in enumerate(request.centres_px):
        if centre is None:
            continue
        width, height = views[photo].photo.size_px
        if not (-0.5 <= centre[0] <= width - 0.5 and -0.5 <= centre[1] <= height - 0.5):
            outside = Refusal(
                code="centre-outside",
                reason=said(
                    "The centre {x:g},{y:g} is outside {path} ({width} x {height} pixels).",
                    x=centre[0],
                    y=centre[1],
                    path=views[photo].photo.path.name,
                    width=width,
                    height=height,
                ),
                remedy=said("Give pixel coordinates of the picture as a person sees it, (0, 0) the top-left pixel."),
            )
            return Unseen(refusal=outside)
        px = np.array(centre)
        centres[photo] = px
        points.append(PointView(photo=photo, px=px, sigma_px=request.pick_sigma_px, quantity="pick"))
    if not points:
        return None
    return Sightings(way="pick", centre_px=tuple(centres), points=tuple(points), hidden=_is_hidden(request))


def _tag_views(seen: Sequence[TagSeen | None], plane: PlaneName, quantity: str) -> tuple[PlaneView, ...]:
    return tuple(
        PlaneView(
            photo=photo,
            plane=plane,
            local_mm=tag.local_mm(),
            px=tag.corners_px,
            sigma_px=np.full(4, tag.sigma_px),
            quantity=quantity,
        )
        for photo, tag in enumerate(seen)
        if tag is not None
    )


def _one_tag(
    tags: Sequence[tuple[TagSeen, ...]], choose: Callable[[Sequence[TagSeen]], TagSeen | Refusal | None], name: str
) -> tuple[TagSeen | None, ...] | Refusal | None:
    """The tag of a kind in each photograph, the same in all; None where it is in none."""
    chosen: list[TagSeen | None] = []
    for seen in tags:
        tag = choose(seen)
        if isinstance(tag, Refusal):
            return tag
        chosen.append(tag)
    ids = {tag.id for tag in chosen if tag is not None}
    if len(ids) > 1:
        return Refusal(
            code="two-tags",
            reason=said("The photographs show different {name}.", name=name),
            remedy=said("Leave one tag on the coupling for all photographs of a rig."),
        )
    return tuple(chosen) if ids else None


def _tagged(request: Request, views: Sequence[View], pictures: InPictures) -> Sightings | Unseen | None:
    seen = _one_tag(pictures.tags, the_centre_tag, said("centre tags"))
    if isinstance(seen, Refusal):
        return Unseen(refusal=seen)
    if seen is None:
        return None
    return Sightings(
        way="tag",
        centre_px=tuple(None if tag is None else tag.centre_px for tag in seen),
        tags=_tag_views(seen, "tag", "tag corners"),
        hidden=True,
        centre_tag=next(tag.id for tag in seen if tag is not None),
    )


Way = Callable[["Request", Sequence["View"], InPictures], Sightings | Unseen | None]
BY_PEOPLE: list[Way] = [_picked, _tagged]
"""What a person marked or stuck on, in the order of trust; where something hides the centre, the other way round."""


def _carried(by: CarriedBy | None, bars: Sequence[Mapping[int, TagSeen]]) -> Sightings | Unseen | None:
    """The centre carried over by bar tags; centre_px is a tag's middle, as the centre itself is not seen."""
    if by is None:
        return None
    seen = sorted({tag for in_photo in bars for tag in in_photo})
    if not set(seen) & set(by.tags):
        return Unseen(refusal=_no_bar_tag(by, seen))
    tags = [next((in_photo[tag] for tag in by.tags if tag in in_photo), None) for in_photo in bars]
    return Sightings(way="carried", centre_px=tuple(None if tag is None else tag.centre_px for tag in tags))


def _no_bar_tag(by: CarriedBy, seen: Sequence[int]) -> Refusal:
    wanted = said("bar tag {tags}", tags=with_or([str(tag) for tag in by.tags])) if by.tags else said("a bar tag")
    there = (
        said("only bar tag {tags} is in the picture", tags=with_and([str(tag) for tag in seen]))
        if seen
        else said("no bar tag can be read in the picture")
    )
    return Refusal(
        code="bar-tag-not-found",
        reason=said(
            "The centre is to be carried over by {wanted} ({whence}), but {there}.",
            wanted=wanted,
            whence=by.whence,
            there=there,
        ),
        remedy=said(
            "A chain, a cable or the coupling's head hangs before it, or it is blurred or too small: lift what hangs before the "
            "tag aside, or step aside until all of the tag and a white rim around it are free, and photograph again; nothing has "
            "to be uncoupled for it. If it has come off, measure the bare ball again with a new one."
        ),
    )


def _ball_is_to_be_seen(request: Request) -> bool:
    return request.coupling == "ball-50" and request.bay is None


def keep_out(view: View) -> tuple[NDArray[np.float64], ...]:
    """Outlines of the sheets in the picture, a little beyond the pattern."""
    return tuple(apply_homography(found.px_from_page, found.sheet.extent_mm()) for found in view.finding.all)


def _balls(request: Request, views: Sequence[View], cameras: Sequence[SolvedCamera]) -> Sightings | Unseen | None:
    """The bare ball in every photograph that shows it, whatever was said; the worst refusal where it is sure in none."""
    if not _ball_is_to_be_seen(request):
        return None
    from photomeasure.seen.centre.ball.ball import SURE, SURE_BARE, find_candidates, likely_px, view_of
    from photomeasure.seen.centre.ball.together import found_together

    looks = [
        view_of(
            view.photo.grey,
            intrinsics=camera.intrinsics,
            rotation=camera.cam_from_world,
            translation=camera.world_in_cam_mm,
            diameter_mm=request.ball_diameter_mm,
            keep_out_px=keep_out(view),
        )
        for view, camera in zip(views, cameras, strict=True)
    ]
    others_mm = mistaken_for(request.ball_diameter_mm)
    candidates = [
        find_candidates(look, others_mm if _of_a_cameras_shape(view) else ())
        for look, view in zip(looks, views, strict=True)
    ]
    sure = SURE_BARE if request.state.coupled is False else SURE
    found = found_together(looks, candidates, sure)
    outlines, refusals, sizes_mm = [], [], []
    centres: list[NDArray[np.float64] | None] = [None] * len(views)
    for photo, ball in enumerate(found):
        if isinstance(ball, Refusal):
            refusals.append(ball)
            continue
        centres[photo] = ball.centre_px
        outlines.append(OutlineView(photo=photo, px=ball.outline_px, sigma_px=ball.sigma_px))
        sizes_mm.append(ball.diameter_mm)
    if outlines:
        return Sightings(
            way="ball",
            centre_px=tuple(centres),
            outlines=tuple(outlines),
            looks_mm=next((size for size in sizes_mm if size != request.ball_diameter_mm), None),
        )
    worst = next((r for r in refusals if r.code == "ball-ambiguous"), refusals[0])
    return Unseen(refusal=worst, candidates_px=tuple(likely_px(some) for some in candidates))


def _of_a_cameras_shape(view: View) -> bool:
    """Whether the picture has the shape in which cameras write them. One that was cut at a side has its axis elsewhere, by which
    a ball looks larger or smaller than it is: that is no sign of another ball, and a person is asked."""
    short, long = sorted(view.photo.grey.shape[:2])
    return any(abs(long / short / shape - 1.0) < SHAPE_SHARE for shape in CAMERA_SHAPES)
