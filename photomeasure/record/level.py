"""The record of a trailer's level: every figure that a person, a plan or a program will read, in one place."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from calib.words.kept import Sentence, Telling
from photomeasure import __version__
from photomeasure.asked.level import LevelRequest
from photomeasure.interval.budget import budget
from photomeasure.levelling import LevelResult, LevelVerdict, Nose, NoseFrom, measure_level
from photomeasure.record.cautions import CAUTIONS
from photomeasure.record.input_rows import input_rows
from photomeasure.record.measure_and_record import file_digest, software
from photomeasure.record.own_digests import with_digests
from photomeasure.record.request_kept import asked_part
from photomeasure.record.schema import AskedPart, DigestsPart, InputRow, RefusalPart, SecondSheetPart
from photomeasure.record.seen_parts import second_sheet
from photomeasure.seen.image import Photo
from photomeasure.seen.look import Refused
from photomeasure.solution.geometry import lens_mm
from photomeasure.solution.level_scene import PER_DEGREE

SCHEMA: Literal["photomeasure/level/1"] = "photomeasure/level/1"
COVERAGE = 0.95


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True, populate_by_name=True)


class LevelBudgetRow(_Part):
    """One input quantity: u_deg is its contribution to the pitch, share its part of u^2."""

    quantity: str
    u_deg: float
    share: float


class AllowedPart(_Part):
    """How far the trailer may stand out of level, who says so, and whether it does."""

    nose_up_deg: float
    nose_down_deg: float
    source: Sentence
    verdict: LevelVerdict
    p_within: float


class LevelPhotoPart(_Part):
    """One photograph with the points that were marked in it."""

    file: str
    sha256: str | None = None
    width_px: int | None = None
    height_px: int | None = None
    lens_height_mm: float | None = None
    camera: str | None = None  # maker and model, as EXIF states them
    taken: str | None = None
    ground_px: list[tuple[float, float]]
    rail_px: list[tuple[float, float]]


class LevelAskedPart(_Part):
    """All that it takes to do it again, beside the photographs and the marks in them. request: as of a measurement."""

    request: AskedPart
    pick_u_px: float
    nose: Literal["left", "right"] | None
    rail_marked: bool = True  # False: two bar tags stuck on the rail were looked for


class LevelRecord(_Part, Telling):
    """pitch_deg: the rail against the ground line, nose-up positive; nothing where it was refused."""

    schema_: Literal["photomeasure/level/1"] = Field(alias="schema", default=SCHEMA)
    version: str
    computed: str
    pitch_deg: float | None = None
    u_deg: float | None = None
    U_deg: float | None = None
    coverage: float | None = None
    interval_deg: tuple[float, float] | None = None
    nose: Nose | None = None
    nose_side: Literal["left", "right"] | None = None
    nose_from: NoseFrom | None = None
    allowed: AllowedPart | None = None
    budget: list[LevelBudgetRow] = Field(default_factory=list)
    print_number: int | None = None
    second_sheet: SecondSheetPart | None = None
    rail_tags: list[int] = Field(default_factory=list)  # ids of the bar tags on the rail, where they stood for marks
    inputs: list[InputRow] = Field(default_factory=list)  # height_u_mm: hundredths of a degree, signed as pitch_deg
    warnings: list[Sentence] = Field(default_factory=list)
    better: list[Sentence] = Field(default_factory=list)
    cautions: list[Sentence] = Field(default_factory=lambda: list(CAUTIONS))
    refusal: RefusalPart | None = None
    photos: list[LevelPhotoPart]
    asked: LevelAskedPart
    software: dict[str, str]
    digests: DigestsPart | None = None

    def to_json(self) -> str:
        """The file's text, with digests of what it says."""
        written = with_digests(self.model_dump(by_alias=True, mode="json"))
        return json.dumps(written, indent=1, allow_nan=False) + "\n"


def recorded_level(asked: LevelRequest) -> tuple[LevelResult | Refused, LevelRecord]:
    """Measure, and make the record with all that it takes to do so again; a refusal has one too. Raises InputError."""
    outcome = measure_level(asked)
    photos = outcome.photos if isinstance(outcome, Refused) else tuple(view.photo for view in outcome.views)
    numbers = [
        view.second_number for view in outcome.views if view.second_number is not None
    ]  # whose bars were remembered
    base = LevelRecord(
        version=__version__,
        computed=datetime.now(UTC).isoformat(timespec="seconds"),
        photos=_photos(outcome.asked if isinstance(outcome, LevelResult) else asked, photos, outcome),
        asked=LevelAskedPart(
            request=asked_part(asked.request, photos, None, numbers),
            pick_u_px=asked.pick_u_px,
            nose=asked.nose,
            rail_marked=bool(asked.rail_px),
        ),
        software=software(),
    )
    if isinstance(outcome, Refused):
        said = outcome.refusal
        part = RefusalPart(code=said.code, reason=said.reason, remedy=said.remedy)
        return outcome, base.model_copy(update={"refusal": part})
    return outcome, base.model_copy(update=_figures(outcome))


def _figures(level: LevelResult) -> dict[str, object]:
    low, high = level.interval_deg
    return {
        "pitch_deg": level.pitch_deg,
        "u_deg": level.u_deg,
        "U_deg": (high - low) / 2.0,
        "coverage": COVERAGE,
        "interval_deg": level.interval_deg,
        "nose": level.nose,
        "nose_side": level.nose_side,
        "nose_from": level.nose_from,
        "allowed": AllowedPart(
            nose_up_deg=level.allowed.nose_up_deg,
            nose_down_deg=level.allowed.nose_down_deg,
            source=level.allowed.source,
            verdict=level.verdict,
            p_within=level.p_allowed,
        ),
        "budget": [
            LevelBudgetRow(quantity=row.quantity, u_deg=row.u_mm / PER_DEGREE, share=row.share)
            for row in budget(level.estimate)
        ],
        "print_number": next((view.number for view in level.views if view.number is not None), None),
        "second_sheet": second_sheet(level.views, level.estimate),
        "rail_tags": list(level.asked.rail_tags),
        "inputs": [
            row.model_copy(update={"height_u_mm": level.way * row.height_u_mm}) for row in input_rows(level.estimate)
        ],
        "warnings": list(level.warnings),
        "better": list(level.better),
    }


def _photos(asked: LevelRequest, photos: tuple[Photo, ...], outcome: LevelResult | Refused) -> list[LevelPhotoPart]:
    seen = {photo.path: photo for photo in photos}
    parts = []
    for number, path in enumerate(asked.request.photos):
        photo, marks = seen.get(path), slice(2 * number, 2 * number + 2)
        taken = None if photo is None else photo.facts.taken
        parts.append(
            LevelPhotoPart(
                file=path.name,
                sha256=photo.sha256 if photo is not None else file_digest(path),
                width_px=None if photo is None else photo.size_px[0],
                height_px=None if photo is None else photo.size_px[1],
                lens_height_mm=None
                if isinstance(outcome, Refused)
                else round(float(lens_mm(outcome.estimate, number)[2])),
                camera=None
                if photo is None
                else " ".join(w for w in (photo.facts.make, photo.facts.model) if w) or None,
                taken=None if taken is None else taken.isoformat(),
                ground_px=list(asked.ground_px[marks]),
                rail_px=list(asked.rail_px[marks]),
            )
        )
    return parts
