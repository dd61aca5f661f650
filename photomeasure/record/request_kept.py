"""A request kept in full in its record, and made again from there: the photographs are all that stays outside."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError

from calib.outcome.errors import InputError
from calib.outcome.files import write_atomic
from calib.outcome.plain_faults import first_fault
from calib.words.said import said
from photomeasure.asked.bars import Bars
from photomeasure.asked.case import Particulars
from photomeasure.asked.fields import CASE, QUESTIONS
from photomeasure.asked.prints import PREFIX, PRINTS, print_path, remembered_print
from photomeasure.asked.request import Request
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State
from photomeasure.record.schema import AskedPart, CasePart
from photomeasure.rules.load import built_in, refuse_false_name
from photomeasure.rules.model import Decision, Rule
from photomeasure.seen.image import Photo

if TYPE_CHECKING:
    from calib.profile.profile import Profile

# what is kept as it is, without a file or a part of its own: the record's field and its place in the request
_KEPT: Mapping[str, str] = {
    question.kept or question.name: question.at
    for question in QUESTIONS
    if question.open_at("record")
    and question.panel != CASE
    and question.name not in ("rule", "decision", "camera", "bay")
}


def asked_part(
    request: Request, photos: Iterable[Photo], monte_carlo_seed: int | None, numbers: Iterable[int] = ()
) -> AskedPart:
    """Everything in a request but its photographs.

    photos: those decoded, which tell the remembered profiles used; numbers: of the prints that they show.
    """
    return AskedPart(
        **{kept: attrgetter(at)(request) for kept, at in _KEPT.items()},
        centres_px=list(request.centres_px),
        rule=_as_file(request.rule),
        decision=None if request.decision is None else _as_file(request.decision),
        camera=None if request.profile is None else _as_file(request.profile),
        remembered=_remembered(request, photos) | _prints(request, numbers),
        bay=None if request.bay is None else _as_file(request.bay),
        monte_carlo_seed=monte_carlo_seed,
        case=case_part(request.case),
        carried=request.carried,
        before_photos=request.before_photos,
        standing=request.standing,
        unsaid=sorted(request.unsaid),
        by_default=sorted(request.by_default),
    )


def case_part(case: Particulars) -> CasePart:
    """The case as a record keeps it."""
    said = {question.name: getattr(case, question.name) for question in QUESTIONS if question.panel == CASE}
    return CasePart(**said, more=dict(case.more))


def _as_file(model: BaseModel) -> dict[str, Any]:
    written: dict[str, Any] = model.model_dump(by_alias=True, mode="json")
    return written


def _remembered(request: Request, photos: Iterable[Photo]) -> dict[str, dict[str, Any]]:
    """Profiles that the pipeline found by itself, as they lie in their folder."""
    if request.profile is not None or request.profile_folder is None or not request.profile_folder.is_dir():
        return {}
    from calib.profile.load import load_profile
    from calib.profile.match import pick_profile

    picked = (pick_profile(request.profile_folder, p.facts, *p.size_px, p.camera_orientation) for p in photos)
    paths = {found[0] for found in picked if found is not None}
    return {path.name: _as_file(load_profile(path)) for path in sorted(paths)}


def _prints(request: Request, numbers: Iterable[int]) -> dict[str, dict[str, Any]]:
    """Remembered prints that the pipeline found by itself, as they lie in their folder."""
    found = [remembered_print(request.profile_folder, number) for number in sorted(set(numbers))]
    return {print_path(Path(), kept.number).name: kept.as_file() for kept in found if kept is not None}


def judged_by(asked: AskedPart) -> tuple[Rule, State, Decision | None]:
    """The rule, the stated state and the decision rule in place of the rule's own. Raises InputError as request_from does."""
    try:
        rule = built_in(Rule.model_validate(asked.rule))
        decision = None if asked.decision is None else Decision.model_validate(asked.decision)
    except ValidationError as error:
        raise _does_not_fit(error) from error
    return rule, _state(asked), decision


def _state(asked: AskedPart) -> State:
    return State(**_under("state", asked))


def _under(part: str, asked: AskedPart) -> dict[str, Any]:
    """What was kept of a part of the request (bars, sag, state), or with "" of the request itself, by its fields there."""
    places = {kept: at.rpartition(".") for kept, at in _KEPT.items()}
    return {field: getattr(asked, kept) for kept, (within, _, field) in places.items() if within == part}


def _does_not_fit(error: ValidationError) -> InputError:
    return InputError(
        said("What the record says was asked does not fit: {error}.", error=first_fault(error)),
        expected=said("rule, decision, camera and bay in the form of their own files"),
        remedy=said("use the version of the program that wrote the record"),
    )


def request_from(asked: AskedPart, photos: tuple[Path, ...], profile_folder: Path) -> Request:
    """The request again. profile_folder: empty folder into which the remembered profiles are put.

    Raises InputError where rule, camera or bay are not what this version calls so.
    """
    from photomeasure.asked.bay_file import Bay

    try:
        rule, state, decision = judged_by(asked)
        refuse_false_name(rule, said("The rule in the record"))
        bay = None if asked.bay is None else Bay.model_validate(asked.bay)
        profile = _profile(asked.camera)
        for name, remembered in asked.remembered.items():
            if name.startswith(PREFIX):
                write_atomic(profile_folder / PRINTS / Path(name).name, json.dumps(remembered))
                continue
            kept = _profile(remembered)
            if kept is not None:
                kept.save(profile_folder / Path(name).name)
    except ValidationError as error:
        raise _does_not_fit(error) from error
    return Request(
        photos=photos,
        rule=rule,
        **_under("", asked),
        centres_px=tuple(asked.centres_px),
        bars=Bars(**_under("bars", asked)),
        state=state,
        sag=Sag(**_under("sag", asked)),
        decision=decision,
        profile=profile,
        profile_folder=profile_folder if asked.remembered else None,
        bay=bay,
        unsaid=frozenset(asked.unsaid),
        by_default=frozenset(asked.by_default),
        case=Particulars(**asked.case.model_dump(exclude={"more"}), more=tuple(asked.case.more.items())),
        carried=asked.carried,
        before_photos=asked.before_photos,
        standing=asked.standing,
    )


def _profile(written: dict[str, Any] | None) -> Profile | None:
    if written is None:
        return None
    from calib.profile.profile import Profile

    return Profile.model_validate(written)
