"""The estimator: weighted least squares over the whole scene, its covariance, and what it noticed on the way.

Start: every photograph by planar pose, both solutions tried. Then one Levenberg-Marquardt over everything. Corners that
do not fit are dropped by a stated limit; where the others scatter more than they claim, their noise is scaled up.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.scene.scene import BAR_TURNS, BEFORE, CENTRE, MarkerView, Scene
from photomeasure.solution.elimination import UNSEEN, Bordered, Rooted, factored, minimise
from photomeasure.solution.model import Layout, cam_from_world, layout, rotation_matrix
from photomeasure.solution.pose_starts import all_starts, marker_starts
from photomeasure.solution.rows import Rows, Whitening, rows
from photomeasure.solution.sightings_agree import agreements
from photomeasure.solution.starts import TAG_TURN_START_RAD, first_guess, mirrored_bar_tags
from photomeasure.solution.stray_corners import MIN_TOGETHER, all_kept, keep_fitting, moved_together, only_kept

MAX_EVALUATIONS = 60  # of the model in one solution
SETTLED = 1e-10  # of chi-square, where a better driver is needed: less than 1e-3 mm of the height
MAX_ROUNDS = 10  # of dropping corners: one far off hides others behind it
CONTRADICTION_P = 1e-4
AMBIGUOUS_CHI2 = 9.0
# Of chi-square a row: a solution so bad may be by another pose that looked plainly worse by itself
NOT_EXPLAINED = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ambiguity:
    """The other planar pose: how much worse it fits, and the height it would give."""

    photo: int
    extra_chi2: float
    other_height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The solution and everything a budget, a coach or a picture needs.

    x, covariance:  parameters in the order of `where.names`, and their covariance.
    gradient:       (parameters,) the measurand by the parameters.
    rows:           whitened rows at the solution; scene: with dropped corners gone and noise scaled.
    noise_scale:    by how much the corners scattered more than they claimed (1 or more).
    ambiguity_u_mm: what a second pose that cannot be ruled out adds to u_mm; 0 where there is none.
    left_out:       photographs in which what was taken for the ball does not fit the others.
    moved_together: dropped corners of a sheet that lie off by one and the same way.
    """

    height_mm: float
    u_mm: float
    x: NDArray[np.float64]
    covariance: NDArray[np.float64]
    gradient: NDArray[np.float64]
    where: Layout
    rows: Rows
    scene: Scene
    noise_scale: float
    dropped: int
    ambiguity: Ambiguity | None
    ambiguity_u_mm: float = 0.0
    left_out: tuple[int, ...] = ()
    moved_together: int = 0

    def value(self, name: str) -> float:
        """A parameter by its name, mm, rad or 1; KeyError for one that the scene does not have."""
        return float(self.x[self.where.index[name]])

    def u(self, name: str) -> float:
        """Its standard uncertainty, in its own unit."""
        i = self.where.index[name]
        return float(np.sqrt(self.covariance[i, i]))


@dataclass(frozen=True, slots=True)
class _Fit:
    x: NDArray[np.float64]
    chi2: float
    rows: Rows  # undisturbed, at x or a last step before it that moved next to nothing


def _fit(
    scene: Scene,
    where: Layout,
    start: NDArray[np.float64],
    disturbance: NDArray[np.float64] | float = 0.0,
    settled: float | None = None,
) -> _Fit:
    kept: list[tuple[NDArray[np.float64], Rows]] = []
    whitening = Whitening(scene, where)

    def at(x: NDArray[np.float64]) -> Rows:
        if not kept or not np.array_equal(kept[-1][0], x):
            kept[:] = [(x.copy(), whitening.at(x))]
        return kept[-1][1]

    def residual(x: NDArray[np.float64]) -> NDArray[np.float64]:
        return at(x).residual + disturbance

    def jacobian(x: NDArray[np.float64]) -> NDArray[np.float64]:
        return at(x).jacobian

    def both(x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        found = at(x)
        return found.residual + disturbance, found.jacobian

    x = minimise(both, where, start, evaluations=MAX_EVALUATIONS, settled=settled)
    if x is None:
        from scipy.optimize import least_squares  # slow to load, and seldom needed

        x = np.asarray(
            least_squares(
                residual,
                start,
                jac=jacobian,
                method="lm",
                x_scale="jac",
                xtol=1e-8,
                ftol=SETTLED,
                gtol=SETTLED,
                max_nfev=MAX_EVALUATIONS,
            ).x
        )
    final = _nearby(x, *kept[-1]) or at(x)
    chi2 = float(((final.residual + disturbance) ** 2).sum()) if _in_front(scene, where, x) else np.inf
    return _Fit(x, chi2, final)


def _nearby(x: NDArray[np.float64], at: NDArray[np.float64], known: Rows) -> Rows | None:
    """The rows at x (P,) by those known elsewhere, where a last step that moved next to nothing came from there."""
    if np.array_equal(x, at):
        return known
    by = known.jacobian @ (x - at)
    return replace(known, residual=known.residual + by) if by @ by < UNSEEN**2 else None


def _in_front(scene: Scene, where: Layout, x: NDArray[np.float64]) -> bool:
    """Whether the centre is in front of every camera that saw it, as a mirrored pose may put it behind."""
    seen = list(scene.centre_sights)
    seen += [(view.photo, view.before) for view in scene.planes if view.plane == "tag"]
    for photo, before in set(seen):
        centre = x[where.at(*scene.names(CENTRE, before=before))]
        turn, move = cam_from_world(where, x, photo)
        if not float(turn[2] @ centre + move[2]) > 0.0:
            return False
    return True


def _noise_scale(all_rows: Rows, leverage: NDArray[np.float64]) -> float:
    """Scatter of the corners over what they claim, with the degrees of freedom that the fit left them."""
    is_corner = np.array([quantity in ("corner noise", "marker corner noise") for quantity in all_rows.quantities])
    freedom = float((1.0 - leverage[is_corner]).sum())
    if freedom < 4:
        return 1.0
    return max(1.0, float(np.sqrt((all_rows.residual[is_corner] ** 2).sum() / freedom)))


def _scaled_noise(scene: Scene, scale: float) -> Scene:
    return replace(
        scene,
        planes=tuple(
            replace(view, sigma_px=view.sigma_px * scale) if view.quantity == "corner noise" else view
            for view in scene.planes
        ),
        markers=tuple(
            replace(
                view,
                sigma_px=view.sigma_px * scale,
                survey_px=None if view.survey_px is None else view.survey_px * scale,
            )
            for view in scene.markers
        ),
    )


def measurand_gradient(scene: Scene, where: Layout) -> NDArray[np.float64]:
    """(P,) d height / d parameter, for every parameter of the layout; mm over the parameter's own unit."""
    gradient = np.zeros(len(where.names))
    for name, coefficient in scene.measurand.items():
        gradient[where.index[name]] = coefficient
    return gradient


def solve_from(scene: Scene, where: Layout, start: NDArray[np.float64]) -> NDArray[np.float64]:
    """The parameters (P,) at the optimum nearest to `start` (P,): the plain reference for what budget and Monte Carlo do by its slopes."""
    return _fit(scene, where, start).x


def solved_from(scene: Scene, where: Layout, start: NDArray[np.float64], settled: float) -> Estimate:
    """The solution nearest to `start` (P,), without a look for others. settled: see `minimise`."""
    fit = _fit(scene, where, start, settled=settled)
    return finish(scene, where, fit.x, solved=fit.rows)


def solve_disturbed(solved: Estimate, disturbance: NDArray[np.float64]) -> NDArray[np.float64]:
    """The parameters (P,) at the optimum when the whitened rows are disturbed by (R,) standard uncertainties."""
    return _fit(solved.scene, solved.where, solved.x, disturbance).x


def finish(
    scene: Scene,
    where: Layout,
    x: NDArray[np.float64],
    *,
    solved: Rows | None = None,
    factors: Bordered | Rooted | None = None,
    noise_scale: float = 1.0,
    dropped: int = 0,
    ambiguity: Ambiguity | None = None,
) -> Estimate:
    """Covariance and measurand at given parameters x (P,); also for a planned scene that nobody has photographed yet.

    solved: the rows at x where they are known already; factors: of their Jacobian, the same.
    """
    final = rows(scene, where, x) if solved is None else solved
    covariance = (factored(final.jacobian, where) if factors is None else factors).covariance()
    gradient = measurand_gradient(scene, where)
    return Estimate(
        height_mm=float(gradient @ x),
        u_mm=float(np.sqrt(gradient @ covariance @ gradient)),
        x=x,
        covariance=covariance,
        gradient=gradient,
        where=where,
        rows=final,
        scene=scene,
        noise_scale=noise_scale,
        dropped=dropped,
        ambiguity=ambiguity,
    )


def _best_fit(
    scene: Scene, where: Layout, starts: list[list[tuple[NDArray[np.float64], float]]]
) -> tuple[_Fit, Ambiguity | None]:
    """The best solution over both planar poses of every photograph, and the nearest rival that gives another height."""
    best_poses = [options[0][0] for options in starts]
    best = _tag_mirrored(scene, where, _fit(scene, where, first_guess(scene, where, best_poses)))
    gradient = measurand_gradient(scene, where)
    ambiguity = None
    for photo, options in enumerate(starts):
        plainly_worse = len(options) < 2 or options[1][1] > 4.0 * max(options[0][1], 0.05)
        explained = best.chi2 < NOT_EXPLAINED * len(best.rows.residual)
        if plainly_worse and explained:
            continue
        if len(options) < 2:
            continue
        poses = list(best_poses)
        poses[photo] = options[1][0]
        other = _tag_mirrored(scene, where, _fit(scene, where, first_guess(scene, where, poses)))
        if other.chi2 < best.chi2:
            best, other, best_poses = other, best, poses
        if not np.isfinite(other.chi2):
            continue
        rival = Ambiguity(photo=photo, extra_chi2=other.chi2 - best.chi2, other_height_mm=float(gradient @ other.x))
        same = abs(rival.other_height_mm - float(gradient @ best.x)) < 1e-3
        if not same and (ambiguity is None or rival.extra_chi2 < ambiguity.extra_chi2):
            ambiguity = rival
    return best, ambiguity


def _tag_mirrored(scene: Scene, where: Layout, best: _Fit) -> _Fit:
    """A tag's turn has a mirrored optimum, as every plane seen from afar: the better of both."""
    if BAR_TURNS[0] in where.index:
        best = _bar_tag_mirrored(scene, where, best)
    for side in ("", BEFORE):
        if f"{side}tag.turn" not in where.index:
            continue
        start = best.x.copy()
        turn, lean = where.at(f"{side}tag.turn", f"{side}tag.lean")
        start[turn] = -np.sign(start[turn]) * min(abs(float(start[turn])), 2 * TAG_TURN_START_RAD)
        start[lean] = -start[lean]
        other = _fit(scene, where, start)
        best = other if other.chi2 < best.chi2 else best
    return best


def _bar_tag_mirrored(scene: Scene, where: Layout, best: _Fit) -> _Fit:
    """The same of a bar tag, by the two poses that its corners allow."""
    for start in mirrored_bar_tags(scene, where, best.x):
        other = _fit(scene, where, start)
        best = other if other.chi2 < best.chi2 else best
    return best


def estimate(scene: Scene) -> Estimate | Refusal:
    """Solve a scene with the kit. Refuses where photographs contradict each other."""
    given, where, kept = scene, layout(scene), all_kept(scene)
    scene = _with_survey(given, where)
    best, ambiguity = _best_fit(scene, where, all_starts(scene))
    for _ in range(MAX_ROUNDS):
        if not np.isfinite(best.chi2):
            return _no_solution()
        whole = all(mask.all() for mask in kept)
        fitting = keep_fitting(best.rows if whole else rows(_with_survey(given, where), where, best.x), kept)
        if all(np.array_equal(new, old) for new, old in zip(fitting, kept, strict=True)):
            break
        # corners that do not fit also decide between the two poses: weigh them again without
        kept, scene = fitting, only_kept(given, fitting)
        where = layout(scene)
        scene = _with_survey(scene, where)
        best, ambiguity = _best_fit(scene, where, all_starts(scene))
    dropped = sum(int((~keep).sum()) for keep in kept)
    factors = factored(best.rows.jacobian, where)
    scale = _noise_scale(best.rows, factors.leverage())
    if scale > 1.0:
        scene = _scaled_noise(scene, scale)
        if ambiguity is not None:
            best, ambiguity = _best_fit(scene, where, all_starts(scene))
        else:
            best = _fit(scene, where, best.x)
        factors = factored(best.rows.jacobian, where)
    result = finish(
        scene,
        where,
        best.x,
        solved=best.rows,
        factors=factors,
        noise_scale=scale,
        dropped=dropped,
        ambiguity=ambiguity,
    )
    if dropped >= MIN_TOGETHER:
        result = replace(result, moved_together=moved_together(_with_survey(given, where), kept, where, best.x))
    instead = _where_photographs_disagree(given, result, factors)
    return _with_both_poses(result) if instead is None else instead


def _with_survey(scene: Scene, where: Layout) -> Scene:
    """Surveyed points that one photograph sees: their survey error counts as noise in that picture, u f / depth.

    Points that several photographs see have their error as an unknown of its own, see `model.layout`.
    """
    markers = []
    for view in scene.markers:
        intrinsics = scene.cameras[scene.camera_of[view.photo]].mean
        pose = marker_starts(view, intrinsics)[0][0]
        markers.append(replace(view, survey_px=survey_px(view, where, float(intrinsics[0]), pose)))
    return replace(scene, markers=tuple(markers))


def survey_px(view: MarkerView, where: Layout, focal_px: float, pose: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N,) what the survey's error does to points in a photograph of pose (6,); 0 where it is an unknown of its own."""
    depth = view.world_mm @ rotation_matrix(pose[:3])[2] + pose[5]
    alone = np.array([f"{name}.x" not in where.index for name in view.names])
    return np.asarray(np.where(alone, view.u_mm * focal_px / np.maximum(depth, 1.0), 0.0), dtype=np.float64)


def _no_solution() -> Refusal:
    return Refusal(
        code="no-solution",
        reason=said("No camera position explains what was found in the photographs."),
        remedy=said(
            "Send the photographs whole as the camera wrote them, from the main camera without zoom; a tele "
            "or wide lens has to be calibrated. Check that the centre is marked on the coupling in this very "
            "picture, or photograph again from nearer."
        ),
    )


def _where_photographs_disagree(
    given: Scene, result: Estimate, factors: Bordered | Rooted
) -> Estimate | Refusal | None:
    """What is to be said instead where the photographs do not see the centre in one point; None where they do.

    A ball that the program found in three photographs or more is left out of the one that does not fit the others.
    """
    found = agreements(result.scene, result.where, result.x, result.rows, result.covariance)
    if min([one.p for one in found] + [_scatter_p(result, factors)]) > CONTRADICTION_P:
        return None
    if found and len({view.photo for view in given.outlines}) > 2:
        odd = max(found, key=lambda one: one.chi2)
        others = tuple(view for view in given.outlines if view.photo != odd.photo)
        without = estimate(replace(given, outlines=others))
        return without if isinstance(without, Refusal) else replace(without, left_out=(odd.photo, *without.left_out))
    target = said("the sheet or the rig") if given.shows_sheets else said("the rig")
    return photos_contradict(
        said(
            "the coupling's centre is not in one point, so it was not the same point, or {target} moved in between",
            target=target,
        )
    )


def _scatter_p(result: Estimate, factors: Bordered | Rooted) -> float:
    """Probability by chance of more scatter in all that was seen of the centre: a tag that was bent or moved, for one."""
    scene = result.scene
    seen = [(view.photo, view.quantity) for view in scene.planes if view.plane == "tag"]
    seen += [(view.photo, view.quantity) for view in scene.points]
    seen += [(view.photo, view.quantity) for view in scene.outlines]
    if len({photo for photo, _ in seen}) < 2:
        return 1.0
    own = {quantity for _, quantity in seen}
    is_centre = np.array([quantity in own for quantity in result.rows.quantities])
    freedom = float((1.0 - factors.leverage()[is_centre]).sum())
    if freedom < 0.5:
        return 1.0
    from scipy.special import chdtrc  # slow to load, and one photograph does not need it

    return float(chdtrc(freedom, float((result.rows.residual[is_centre] ** 2).sum())))


def photos_contradict(why: str) -> Refusal:
    """The refusal of photographs that cannot be of one rig standing still; why: in words."""
    return Refusal(
        code="photos-contradict",
        reason=said("The photographs contradict each other: {why}.", why=why),
        remedy=said(
            "Check that every photograph shows the same rig standing still with nothing moved, whole as the "
            "camera wrote it, and that the centre is marked on the same point in each, or mark it where the "
            "program found it; measure again, or leave out the photograph that does not belong."
        ),
    )


def _with_both_poses(result: Estimate) -> Estimate:
    """Where a second pose cannot be ruled out: the mean and the spread of the mixture of both, by their likelihood."""
    other = result.ambiguity
    if other is None or other.extra_chi2 > AMBIGUOUS_CHI2:
        return result
    p_other = 1.0 / (1.0 + float(np.exp(other.extra_chi2 / 2.0)))
    step = other.other_height_mm - result.height_mm
    extra = float(np.sqrt(p_other * (1.0 - p_other))) * abs(step)
    return replace(
        result,
        height_mm=result.height_mm + p_other * step,
        u_mm=float(np.hypot(result.u_mm, extra)),
        ambiguity_u_mm=extra,
    )
