"""From photographs to what is seen in them: pictures loaded, the kit or a bay's markers found, cameras known."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calib.finding.moved_part import moved_part_cells
from calib.finding.sheets import Finding, find_sheets
from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import joined, said
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.scene.paper import Paper
from photomeasure.scene.scene import CameraPrior
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.answers.number import read_number
from photomeasure.seen.answers.read import Answer, read_answers
from photomeasure.seen.beside import beside
from photomeasure.seen.camera_for import camera_for
from photomeasure.seen.ground_sheet import with_ground_sheet
from photomeasure.seen.image import Photo, Unchecked, load_unchecked
from photomeasure.seen.markers import SeenMarkers, find_markers
from photomeasure.seen.paper import paper_seen
from photomeasure.seen.quality import judge_quality
from photomeasure.seen.two_sheets import first_and_second


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One photograph with what was found in it; markers where a measuring bay is used.

    answers: what is ticked on the upright sheet; number: of the print, where it can be read. second_answers, second_number,
    second_bars (ticked or remembered): of a second upright sheet. before: of a pair, taken before the rig was coupled or loaded.
    copy: it is the picture of another view once more, and tells nothing new. moved_cells: by how many squares of the sheet one end
    of it does not lie where the other says; 0 where it does.
    """

    photo: Photo
    finding: Finding
    camera: CameraPrior
    markers: SeenMarkers | None = None
    answers: tuple[Answer, ...] = ()
    number: int | None = None
    second_answers: tuple[Answer, ...] = ()
    second_number: int | None = None
    second_bars: Bars = Bars()
    paper: Paper | None = None
    before: bool = False
    copy: bool = False
    moved_cells: float = 0.0

    @property
    def bars_mm(self) -> tuple[float, float] | None:
        """Length of the check bars as drawn on the upright sheet, where it is seen."""
        upright = self.finding.of_role("upright")
        return None if upright is None else upright.sheet.bars_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """No measurement: why, and what was seen before it stopped.

    candidates_px: of each photograph, what could be the centre, (2,) pixels each, best first; empty where nothing was looked for.
    """

    request: Request
    refusal: Refusal
    photos: tuple[Photo, ...] = ()
    views: tuple[View, ...] = ()
    candidates_px: tuple[tuple[NDArray[np.float64], ...], ...] = ()


def look(request: Request) -> tuple[View, ...] | Refused:
    """Load every photograph, find the kit in it, and take what is known of its camera.

    Refused by the first photograph in which that cannot be done. Raises InputError for one that is given twice, or is no file.
    """
    photos: list[Photo] = []
    views: list[View] = []
    with closing(_ahead(request.photos)) as reads:
        for path, read in zip(request.photos, reads, strict=True):
            if isinstance(read, Refusal):
                return Refused(request=request, refusal=_naming(read, path, request), photos=tuple(photos))
            same = next((other.path for other in photos if other.sha256 == read.photo.sha256), None)
            if same is not None:
                raise InputError(
                    said("{path} and {same} are one photograph: their contents are the same.", path=path, same=same),
                    expected=said("each photograph once, for a second look at the same pixels tells nothing"),
                    remedy=said("leave one of them out"),
                )
            with beside(read.checked) as checked:
                view = _look_at(request, read.photo)
                photos.append(checked())
            if isinstance(view, Refusal):
                return Refused(
                    request=request, refusal=_naming(view, path, request), photos=tuple(photos), views=tuple(views)
                )
            before = len(views) >= len(request.photos) - request.before_photos
            views.append(replace(view, photo=photos[-1], before=before))
    sheets = [found.sheet for view in views for found in view.finding.sheets]
    papers: set[str] = {sheet.paper for sheet in sheets}
    editions = {sheet.edition for sheet in sheets if sheet.role == "upright"}
    if len(editions) > 1:
        papers = {said("edition {edition}", edition=edition) for edition in editions}
    if len(papers) > 1:
        refusal = Refusal(
            code="two-kits",
            reason=said("The photographs show different kits: {kits}.", kits=joined(sorted(papers))),
            remedy=said("Measure photographs of one rig with one kit at a time."),
        )
        return Refused(request=request, refusal=refusal, photos=tuple(photos), views=tuple(views))
    settled = first_and_second(views)
    if isinstance(settled, Refusal):
        return Refused(request=request, refusal=settled, photos=tuple(photos), views=tuple(views))
    return settled


def _ahead(paths: Sequence[Path]) -> Generator[Unchecked | Refusal]:
    """Each photograph as it was read and decoded; the next one is while this one is looked at."""
    read = load_unchecked(paths[0])
    for following in paths[1:]:
        with beside(partial(load_unchecked, following)) as next_one:
            yield read
            read = next_one()
    yield read


def _look_at(request: Request, photo: Photo) -> View | Refusal:
    """One photograph: its camera, the kit in it, the bay's markers in it."""
    camera = camera_for(photo, request.profile, request.profile_folder)
    if isinstance(camera, Refusal):
        return camera
    found = find_sheets(photo.grey)
    if request.bay is None:
        if isinstance(found, Refusal):
            return found
        for one in (found, *_as_first(found)):
            unfit = judge_quality(photo.grey, one)
            if unfit is not None:
                return unfit
        upright = found.of_role("upright")
        paper = None if upright is None else paper_seen(photo.grey, upright)
        moved_cells = max((moved_part_cells(photo.grey, one) for one in found.all), default=0.0)
        return _written(View(photo=photo, finding=found, camera=camera, paper=paper, moved_cells=moved_cells))
    markers = find_markers(photo.grey, request.bay)
    if isinstance(markers, Refusal):
        return markers
    kit = (
        found
        if isinstance(found, Finding) and judge_quality(photo.grey, found) is None
        else Finding(sheets=(), codes=())
    )
    return _written(View(photo=photo, finding=replace(kit, second=None), camera=camera, markers=markers))


def _as_first(found: Finding) -> tuple[Finding, ...]:
    """The second upright sheet as if it were alone."""
    return () if found.second is None else (replace(found, sheets=(found.second,), second=None),)


def _written(view: View) -> View:
    """With what is written on the upright sheet: boxes that are ticked, the number of the print."""
    upright = view.finding.of_role("upright")
    if upright is None or not upright.sheet.boxes:
        return view
    grey, second = view.photo.grey, view.finding.second
    view = replace(view, answers=read_answers(grey, upright), number=read_number(grey, upright).number)
    if second is None:
        return view
    return replace(view, second_answers=read_answers(grey, second), second_number=read_number(grey, second).number)


def _naming(refusal: Refusal, path: Path, request: Request) -> Refusal:
    """With several photographs, say which one it was."""
    if len(request.photos) == 1 or path.name in refusal.reason:
        return refusal
    return replace(refusal, reason=joined((path.name, refusal.reason), ": "))


def ground_sheet_seen(view: View, camera: SolvedCamera) -> View:
    """The view with the ground sheet looked for once more, where a solved camera says that it must lie."""
    return replace(view, finding=with_ground_sheet(view.finding, view.photo.grey, camera))
