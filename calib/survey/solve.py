"""A survey solved: sightings, tapes and heights to a bay's markers in millimetres over the ground, with covariance.

start -> scale from the tapes -> ground from the heights -> one adjustment of everything -> tests of tapes and markers.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calib.outcome.progress import Progress
from calib.outcome.refusal import Refusal
from calib.survey.checks import marker_checks, tape_check, warnings_of
from calib.survey.data import Survey, Surveyed, Tape
from calib.survey.datum import ground_frame, moved_state
from calib.survey.network import (
    Extra,
    LinearRow,
    NetworkSolution,
    Observed,
    Seen,
    Unknowns,
    adjust_network,
    distance,
    pixel_noise_px,
    pixel_scale,
    with_extra,
)
from calib.survey.start import Sightings, by_photo, network_of, place_all, rays, triangulate
from calib.words.said import said, said_many

Array = NDArray[np.float64]

CORNER_SIGMA_PX = 0.4  # of a marker's corner where the sighting does not say; the adjustment estimates the scale
# How far inside their places a camera shows a marker's edges: tone curve, 0.79 of a blur of 0.3-1 px (see
# `calib.finding.marker_edges`); print gain and rounding of pictures add. Judgement; the photographs tell it to 0.01 px.
INSET_U_PX = 0.3
GAUGE_U_MM = 1e-3


def solve_survey(
    survey: Survey, lens_mean: Array, lens_covariance: Array, progress: Progress | None = None
) -> Surveyed | Refusal:
    """Solve `survey`, all photographs by one camera with intrinsics (9,) and covariance (9, 9), see `calib.camera.camera`.

    Refuses where photographs do not hang together, no tape connects solved points, or heights do not tell the ground.
    """
    tell = progress if progress is not None else (lambda doing, done: None)
    sightings = by_photo(survey.sightings)
    if len(sightings) < 2:
        return Refusal(
            code="too-few-photographs",
            reason=said_many(
                "Markers were seen in {count} photograph; two are the least, ten or more are good.",
                "Markers were seen in {count} photographs; two are the least, ten or more are good.",
                count=len(sightings),
            ),
            remedy=said("Take photographs from many places, each showing several markers."),
        )
    tell(said("joining photographs"), 0.1)
    placed = place_all(sightings, lens_mean, survey.side_mm, CORNER_SIGMA_PX)
    if len(placed.poses) < 2:
        return Refusal(
            code="photographs-apart",
            reason=said("No two photographs could be joined: they share too few markers."),
            remedy=said("Take photographs that overlap: each should show at least two markers of another one."),
        )
    start, observed, ids, photos = network_of(
        placed, sightings, lens_mean, lens_basis(lens_covariance), CORNER_SIGMA_PX, INSET_U_PX
    )
    observed = _as_measured(survey, observed, ids, photos)
    names = [f"{marker}.{corner}" for marker in ids for corner in range(4)]
    start, observed = _with_picks(survey, start, observed, names, photos, lens_mean)
    tell(said("scale and ground"), 0.5)
    row = {name: number for number, name in enumerate(names)}
    scaled = _scaled(survey, start, row)
    if isinstance(scaled, Refusal):
        return scaled
    datum = ground_frame(survey, scaled, row)
    if isinstance(datum, Refusal):
        return datum
    tell("adjusting", 0.6)
    state = moved_state(scaled, datum)
    adjustment, final = _adjusted(survey, state, observed, row)
    tell("done", 1.0)
    return _report(survey, sightings, adjustment, final, ids, photos, names)


def lens_basis(covariance: Array) -> Array:
    """(9, r) with basis @ basis.T = covariance, scaled before it is split so that px and 1 do not meet."""
    scale = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    used = scale > 0
    if not used.any():
        return np.zeros((9, 0))
    safe = np.where(used, scale, 1.0)
    values, vectors = np.linalg.eigh(covariance / np.outer(safe, safe))
    keep = values > 1e-9
    return np.asarray(safe[:, None] * vectors[:, keep] * np.sqrt(values[keep]), dtype=np.float64)


def _as_measured(survey: Survey, observed: Observed, ids: list[int], photos: list[str]) -> Observed:
    """The network with each corner's own sigma, where its sighting states it."""
    stated = {(seen.photo, seen.marker): seen.sigma_px for seen in survey.sightings if seen.sigma_px is not None}
    measured = []
    for photo, seen in zip(photos, observed.photos, strict=True):
        sigma = seen.sigma_px.copy()
        for first in range(0, len(sigma), 4):
            own = stated.get((photo, ids[seen.points[first] // 4]))
            if own is not None:
                sigma[first : first + 4] = own
        measured.append(replace(seen, sigma_px=sigma))
    return replace(observed, photos=tuple(measured))


def _with_picks(
    survey: Survey, state: Unknowns, observed: Observed, names: list[str], photos: list[str], lens_mean: Array
) -> tuple[Unknowns, Observed]:
    """The network with the picked points that two photographs or more see well enough; `names` grows with them."""
    points, seen = [state.points], list(observed.photos)
    for name in sorted({pick.point for pick in survey.picks}):
        picks = [pick for pick in survey.picks if pick.point == name and pick.photo in photos]
        lines = [rays(np.array([pick.px]), state.poses[photos.index(pick.photo)], lens_mean)[0] for pick in picks]
        point = triangulate(lines) if len(lines) > 1 else None
        if point is None:
            continue
        for pick in picks:
            number = photos.index(pick.photo)
            old = seen[number]
            seen[number] = Seen(
                points=np.append(old.points, len(names)),
                px=np.vstack([old.px, pick.px]),
                sigma_px=np.append(old.sigma_px, pick.sigma_px),
                inwards=np.vstack([old.inwards, np.zeros(2)]),
                scaled=np.append(old.scaled, False),
            )
        names.append(name)
        points.append(point[None, :])
    grown = Unknowns(points=np.concatenate(points), sides=state.sides, poses=state.poses, lens=state.lens)
    return grown, replace(observed, photos=tuple(seen))


def _scaled(survey: Survey, state: Unknowns, row: dict[str, int]) -> Unknowns | Refusal:
    """The state in millimetres by the median of the tapes' ratios, which one wrong tape of three cannot spoil."""
    ratios = []
    for tape in survey.tapes:
        if tape.start in row and tape.end in row:
            ratios.append(tape.distance_mm / max(distance(state, row[tape.start], row[tape.end]).residual, 1e-9))
    if not ratios:
        return Refusal(
            code="no-scale",
            reason=said("No tape connects two points that were solved."),
            remedy=said(
                "Tape the distance between corners of two markers that several photographs show; three or more."
            ),
        )
    factor = float(np.median(ratios))
    poses = state.poses.copy()
    poses[:, 3:] *= factor
    return Unknowns(points=state.points * factor, sides=state.sides * factor, poses=poses, lens=state.lens)


def _adjusted(
    survey: Survey, state: Unknowns, observed: Observed, row: dict[str, int]
) -> tuple[NetworkSolution, Observed]:
    extra = (*_tapes(survey, row), *_heights(survey, row), *_plumb(survey, row), _gauge(state))
    sigma, final = 2.0, observed
    for steps in (30, 30, 60):
        final = with_extra(observed, extra, sigma)
        adjustment = adjust_network(state, final, steps=steps)
        state = adjustment.state
        sigma = pixel_scale(adjustment, observed)
    return adjustment, final


def _tapes(survey: Survey, row: dict[str, int]) -> list[Extra]:
    def one(tape: Tape) -> Extra:
        def lines(state: Unknowns) -> list[LinearRow]:
            line = distance(state, row[tape.start], row[tape.end])
            residual = (tape.distance_mm - line.residual) / tape.u_mm
            return [LinearRow(residual=residual, columns=line.columns, slopes=line.slopes / tape.u_mm)]

        return lines

    return [one(tape) for tape in survey.tapes if tape.start in row and tape.end in row]


def _heights(survey: Survey, row: dict[str, int]) -> list[Extra]:
    def lines(state: Unknowns) -> list[LinearRow]:
        return [
            LinearRow(
                residual=(height.height_mm - float(state.points[row[height.point], 2])) / height.u_mm,
                columns=np.array([3 * row[height.point] + 2]),
                slopes=np.array([1.0 / height.u_mm]),
            )
            for height in survey.heights
            if height.point in row
        ]

    return [lines]


def _plumb(survey: Survey, row: dict[str, int]) -> list[Extra]:
    """The wall's slope away from the plumb line, by regression of its depth on height: zero to u_rad."""
    if survey.plumb is None:
        return []
    wall = survey.plumb
    rows = np.array([row[f"{m}.{k}"] for m in wall.markers for k in range(4) if f"{m}.{k}" in row], dtype=np.int64)

    def lines(state: Unknowns) -> list[LinearRow]:
        points = state.points[rows]
        level = points[:, :2] - points[:, :2].mean(axis=0)
        along = np.linalg.svd(level, full_matrices=False)[2][0]  # the wall's level direction
        across = np.array([-along[1], along[0]])
        design = np.column_stack([np.ones(len(points)), level @ along, points[:, 2] - points[:, 2].mean()])
        slope = np.linalg.pinv(design)[2]  # (n,) what each depth adds to the slope
        value = float(slope @ (points[:, :2] @ across))
        columns = np.concatenate([3 * rows, 3 * rows + 1])
        slopes = np.concatenate([slope * across[0], slope * across[1]]) / wall.u_rad
        return [LinearRow(residual=-value / wall.u_rad, columns=columns, slopes=slopes)]

    return [lines] if len(rows) >= 8 else []


def _gauge(state: Unknowns) -> Extra:
    """What no observation tells, by choice: where x = y = 0 is, and which way x points."""
    first = 0
    far = int(np.argmax(np.linalg.norm(state.points[:, :2] - state.points[first, :2], axis=1)))
    offset = state.points[far, :2] - state.points[first, :2]
    turn = np.array([-offset[1], offset[0]]) / np.linalg.norm(offset)
    held_first, held_far = state.points[first, :2].copy(), float(turn @ state.points[far, :2])

    def lines(now: Unknowns) -> list[LinearRow]:
        weight = 1.0 / GAUGE_U_MM
        fixed = [
            LinearRow(
                residual=float(held_first[axis] - now.points[first, axis]) * weight,
                columns=np.array([3 * first + axis]),
                slopes=np.array([weight]),
            )
            for axis in range(2)
        ]
        residual = (held_far - float(turn @ now.points[far, :2])) * weight
        return [*fixed, LinearRow(residual=residual, columns=3 * far + np.arange(2), slopes=turn * weight)]

    return lines


def _report(
    survey: Survey,
    sightings: Sightings,
    adjustment: NetworkSolution,
    final: Observed,
    ids: list[int],
    photos: list[str],
    names: list[str],
) -> Surveyed:
    state = adjustment.state
    size = state.points.size
    scale = 1.0 / np.sqrt(np.maximum(np.diag(adjustment.normal), 1e-30))
    inverse = np.linalg.inv(adjustment.normal * np.outer(scale, scale)) * np.outer(scale, scale)
    covariance = np.asarray(inverse[:size, :size], dtype=np.float64)
    row = {name: number for number, name in enumerate(names)}
    tapes = tuple(
        tape_check(tape, state, covariance, row) for tape in survey.tapes if tape.start in row and tape.end in row
    )
    markers = marker_checks(adjustment, final, covariance, ids)
    left = [
        said("{photo}: it shares too few markers with the others", photo=photo)
        for photo in sightings
        if photo not in photos
    ]
    all_ids = {marker for seen in sightings.values() for marker in seen}
    left += [
        said("marker {marker}: no joined photograph shows it", marker=marker) for marker in sorted(all_ids - set(ids))
    ]
    left += [
        said("point {pick}: picked in fewer than two joined photographs", pick=pick) for pick in _unused(survey, names)
    ]
    return Surveyed(
        names=tuple(names),
        points_mm={name: state.points[number] for name, number in row.items()},
        covariance_mm2=covariance,
        markers=markers,
        tapes=tapes,
        cam_from_bay=dict(zip(photos, state.poses, strict=True)),
        noise_px=pixel_noise_px(adjustment, final),
        intrinsics=final.intrinsics(state.lens),
        inset_px=(final.inset_px(state.lens), INSET_U_PX * float(np.sqrt(inverse[-1, -1]))),
        left_out=tuple(left),
        warnings=warnings_of(survey, tapes, markers),
    )


def _unused(survey: Survey, names: list[str]) -> list[str]:
    return sorted({pick.point for pick in survey.picks} - set(names))
