"""The record of one measurement: what `--json` writes, what `plan` and later checks read. Schema by pydantic."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Literal

from pydantic import AliasChoices, BaseModel, ConfigDict, Field

from calib.outcome.files import is_output
from calib.outcome.reading import json_of, read_model, text_of
from calib.words.kept import Sentence, Telling
from calib.words.said import said
from photomeasure.asked.carried import Bar, Carried
from photomeasure.asked.needs import Need
from photomeasure.asked.tape_said import USUAL_CLASS, TapeClass, TapeTo
from photomeasure.record.own_digests import with_digests

SCHEMA: Literal["photomeasure/record/1"] = "photomeasure/record/1"
VerdictWord = Literal["within", "above", "below", "undecided", "no-band", "refused"]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True, populate_by_name=True)


class RefusalPart(_Part):
    """Why nothing was measured, and what to do next; code: for programs."""

    code: str
    reason: Sentence
    remedy: Sentence


class BudgetRow(_Part):
    """One input quantity: u_mm is its contribution to the height, share its part of u^2."""

    quantity: str
    u_mm: float
    share: float


class InputRow(_Part):
    """One input quantity as it went in, and what it does to the height: height_u_mm for one u of it, signed.

    evaluation: A, by statistics of what was observed; B, by other knowledge (JCGM 100:2008 4.2, 4.3).
    """

    quantity: str
    value: float
    u: float
    unit: str
    distribution: str
    evaluation: Literal["A", "B"] | None = None
    source: Sentence
    height_u_mm: float


class PhotoPart(_Part):
    """One photograph: file, digest, what was seen of the sheet in it, and by which camera when."""

    file: str
    sha256: str | None = None
    width_px: int | None = None
    height_px: int | None = None
    corners: int | None = None
    cell_px: float | None = None
    blur_px: float | None = None
    distance_mm: float | None = None
    lens_height_mm: float | None = None
    camera: str | None = None  # maker and model, as EXIF states them
    before: bool = False  # of a pair: taken before the rig was coupled or loaded
    sheet_px: list[list[float]] | None = None  # [x, y] of the four outermost corners of the upright sheet's squares
    taken: str | None = None  # ISO 8601 without a zone: what the camera's clock showed, and no more than that


class CasePart(_Part):
    """What a person said of the case; no figure depends on it. more: further columns of a list, carried through."""

    rig: str | None = None
    case: str | None = None
    by: str | None = None
    place: str | None = None
    note: str | None = None
    more: dict[str, str] = Field(default_factory=dict)


class AskedPart(_Part):
    """What was asked, in full: with the photographs, all that it takes to measure again.

    rule, decision, camera, bay: as their own files hold them. remembered: camera profiles that were found by
    themselves, and prints whose bars were remembered, by file name. monte_carlo_seed: None where nothing was drawn.
    unsaid: what held a default because nobody said; by_default: what came from a person's file of defaults.
    """

    coupling: str
    centres_px: list[tuple[float, float] | None]
    pick_sigma_px: float
    ball_diameter_mm: float
    bar_x_mm: float | None
    bar_y_mm: float | None
    coupled: bool | None
    laden: bool | None
    level_ground: bool | None
    level_control: bool | None
    level_within_mm_per_m: float | None
    ball_load_kg: float | None = None
    stand_mass_kg: float | None = None
    stand_drop_mm: float | None = None
    load_drop_mm: float | None = None
    rule: dict[str, Any]
    decision: dict[str, Any] | None
    camera: dict[str, Any] | None
    remembered: dict[str, dict[str, Any]]
    bay: dict[str, Any] | None
    monte_carlo_seed: int | None
    case: CasePart = Field(default_factory=CasePart)
    carried: Carried | None = None
    before_photos: int = Field(default=0, ge=0)
    standing: bool = False
    sheet_untouched: bool | None = None
    tag_by_gauge: bool | None = None
    unsaid: list[Literal["coupling", "ball-diameter", "rule"]] = Field(default_factory=list)
    by_default: list[str] = Field(default_factory=list)


class CarriedPart(_Part):
    """A centre that a bar tag carried over from before it was hidden. u_mm: part of the height's u that comes with it."""

    record: str
    tag: int
    u_mm: float


class SecondSheetPart(_Part):
    """A second upright sheet in the pictures: the number of its print, and how far its foot is from the first one's."""

    number: int
    apart_mm: float


class SinkPart(_Part):
    """How far the centre sank between the two photographs: before less after, mm."""

    mm: float
    u_mm: float


class BeforePart(_Part):
    """The height before it was coupled or loaded. With u_mm of now and of the sinking it tells how both go together:
    their covariance is (u_before^2 + u_now^2 - u_sink^2) / 2."""

    record: str | None = None
    height_mm: float
    u_mm: float
    sheet_untouched: bool | None


class StandPart(_Part):
    """How far the ball went down with somebody of this mass on the bar, by photographs; with that height's own u."""

    mass_kg: float
    drop_mm: float
    u_mm: float
    u_standing_mm: float


class FactPart(_Part):
    """What was known of the rig beside its photographs, as the boxes on the sheet have it, and where from."""

    question: str
    value: str
    from_: Literal["typed", "ticked", "remembered", "settings", "assumed"] = Field(
        validation_alias="from", serialization_alias="from"
    )


class CentrePart(_Part):
    """Where the coupling's centre was seen: px has one [x, y] a photograph, None where it was not seen."""

    source: Literal["pick", "tag", "ball", "carried"]
    px: list[list[float] | None]
    checks: list[Sentence] = Field(default_factory=list)


class BallPart(_Part):
    """The ball's diameter by its outline and the solved scene, whatever was stated of it."""

    diameter_mm: float
    u_mm: float


class CameraPart(_Part):
    """What was known of the first photograph's camera, and from where; focal lengths in pixels, None of a profile that the
    photographs contradict: beside its distortion they mean nothing."""

    kind: str
    source: Sentence
    focal_px: float | None
    u_focal_px: float | None


class RulePart(_Part):
    """decision_number: the guard factor or the largest probability of false acceptance, by decision_kind.

    notes: of the band and of the rule; contradictions: what other sources say, in words.
    """

    name: str
    title: Sentence
    low_mm: float | None
    high_mm: float | None
    source: Sentence
    edition: Sentence
    confidence: str
    notes: list[Sentence] = Field(default_factory=list)
    contradictions: list[Sentence] = Field(default_factory=list)
    decision: Sentence
    decision_kind: Literal["simple", "guarded", "max-false-acceptance"] | None = None
    decision_number: float | None = None
    decision_from: Literal["rule", "user"] | None = None
    guard_band_mm: float | None


class StatePart(_Part):
    """The state in which the rig was photographed, as it was said; None: not said."""

    coupling: str
    coupled: bool | None
    laden: bool | None
    level_ground: bool | None
    level_control: bool | None = None
    sinking: Sentence | None = None  # what was said of how far the ball sinks
    level_within_mm_per_m: float | None = None


class AdjustmentPart(_Part):
    """Range of lowering (positive: down) that puts the centre inside the band at the stated confidence."""

    sentence: Sentence
    down_from_mm: float | None
    down_to_mm: float | None
    to_middle_mm: float | None
    confidence: float | None


class AmbiguityPart(_Part):
    """A second pose that explains a photograph nearly as well: extra_chi2 more, at another height."""

    photo: int
    extra_chi2: float
    other_height_mm: float


class TogetherPart(_Part):
    """Best value of photograph and tape where the two agree, each weighed by 1/u^2; interval of +/-2 u."""

    height_mm: float
    u_mm: float
    interval_mm: tuple[float, float]
    verdict: VerdictWord | None = None
    p_inside: float | None = None


class NeedPart(_Part):
    """Something that only the person can tell. answers: the sentences among advice and warnings that it would answer."""

    code: Need
    answers: list[Sentence] = Field(default_factory=list)


class WithdrawnPart(_Part):
    """What the record said by the photograph alone, before a tape spoke against it."""

    sentence: Sentence
    indicative: bool
    indicative_why: list[Sentence]
    advice: list[Sentence]
    adjustment: AdjustmentPart | None


class TapePart(_Part):
    """A tape's reading. reading_mm: as read, from the ground up to `from`; height_mm: of the centre, worked out from it.

    verdict: by the tape alone; None where no rule was kept. agrees: |En| <= 1. Records before height_mm: read to the centre.
    """

    reading_mm: float
    from_: TapeTo = Field(default="middle", validation_alias="from", serialization_alias="from")
    flat_mm: float | None = None
    tape_class: TapeClass = USUAL_CLASS  # records before it was kept took the usual one
    height_mm: float | None = None
    u_mm: float
    verdict: VerdictWord | None = None
    p_inside: float | None = None
    difference_mm: float | None = None
    En: float | None = Field(default=None, validation_alias=AliasChoices("En", "en"))
    agrees: bool | None = None
    sentence: Sentence
    together: TogetherPart | None = None
    withdrawn: WithdrawnPart | None = None

    @property
    def centre_mm(self) -> float:
        """Height of the coupling's centre by the tape."""
        return self.reading_mm if self.height_mm is None else self.height_mm


class MonteCarloPart(_Part):
    """The interval by drawing; reported: whether it is the one that the record gives."""

    trials: int
    height_mm: float
    u_mm: float
    interval_mm: tuple[float, float]
    reported: bool
    sentence: Sentence


class DigestsPart(_Part):
    """SHA-256 of what the record itself says, as it was written (`own_digests`): of its content, and of what it was made with."""

    content: str
    made_with: str


class Record(_Part, Telling):
    """One measurement or one refusal: height_mm is nothing then, and refusal says why. Lengths in millimetres above the ground.

    u_mm is a standard uncertainty, U_mm = coverage_factor times u_mm half of interval_mm, which holds `coverage` of what the
    height may be. p_inside, p_above, p_below: probabilities, 0 to 1; nothing where no band applies.
    verdict and its probabilities are the photograph's, whatever a tape says; sentence, indicative and advice are those
    that hold with it.
    """

    schema_: Literal["photomeasure/record/1"] = Field(default=SCHEMA, alias="schema")
    version: str
    computed: str = Field(validation_alias=AliasChoices("computed", "made"))  # ISO 8601 with its zone
    photographed: str | None = None  # the first photograph's time by the camera's clock, as photos hold it
    rig: str | None = None  # its name or registration, as it was typed
    height_mm: float | None = None
    u_mm: float | None = None
    U_mm: float | None = None
    coverage: float | None = None
    coverage_factor: float | None = None
    coverage_sentence: Sentence | None = None
    interval_mm: tuple[float, float] | None = None
    verdict: VerdictWord
    sentence: Sentence
    p_inside: float | None = None
    p_above: float | None = None
    p_below: float | None = None
    indicative: bool = False
    indicative_why: list[Sentence] = Field(default_factory=list)
    rule: RulePart | None = None
    state: StatePart
    facts: list[FactPart] = Field(default_factory=list)
    print_number: int | None = None  # of the sheet, where it was read
    second_sheet: SecondSheetPart | None = None
    adjustment: AdjustmentPart | None = None
    advice: list[Sentence] = Field(default_factory=list)
    coach: list[Sentence] = Field(default_factory=list)
    warnings: list[Sentence] = Field(default_factory=list)
    rests_on: list[Sentence] = Field(default_factory=list)  # what the photographs cannot show, and what it would change
    needs: list[NeedPart] = Field(default_factory=list)
    budget: list[BudgetRow] = Field(default_factory=list)
    inputs: list[InputRow] = Field(default_factory=list)
    centre: CentrePart | None = None
    ball: BallPart | None = None  # where its outline was seen
    carried: CarriedPart | None = None
    sink: SinkPart | None = None
    before: BeforePart | None = None
    stand_test: StandPart | None = None
    bar: Bar | None = None  # the centre in the frame of a bar tag that is in sight, for a photograph from after
    camera: CameraPart | None = None
    ambiguity: AmbiguityPart | None = None
    monte_carlo: MonteCarloPart | None = None
    tape: TapePart | None = None
    confirm: list[Sentence] = Field(default_factory=list)
    cautions: list[Sentence] = Field(default_factory=list)
    refusal: RefusalPart | None = None
    photos: list[PhotoPart] = Field(default_factory=list)
    asked: AskedPart | None = None  # None in records of programs that did not keep it
    software: dict[str, str] = Field(default_factory=dict)  # what computed it, name and version
    digests: DigestsPart | None = None  # as its file holds them; None in records of programs that wrote none

    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True, populate_by_name=True)

    def to_json(self) -> str:
        """The file's text, with digests of what it says."""
        written = with_digests(self.model_dump(by_alias=True, mode="json"))
        return json.dumps(written, indent=1, allow_nan=False) + "\n"


def is_record(path: Path) -> bool:
    """Whether a file says that it is a record of this version; it may be broken all the same, cut short for instance."""
    try:
        text = text_of(path)
        written = json_of(text)
    except OSError:
        return False
    except ValueError:  # no JSON to its end, or no text
        return is_output(path, "record")
    return isinstance(written, dict) and written.get("schema") == SCHEMA


def written_record(path: Path) -> dict[str, Any] | None:
    """What stands in a file that says that it is a record of this version, unchecked; None where it is none, or broken."""
    try:
        written = json_of(text_of(path)) if path.is_file() else None
    except (OSError, ValueError):
        return None
    return written if isinstance(written, dict) and written.get("schema") == SCHEMA else None


def read_record(path: Path) -> Record:
    """A record from its file; InputError names the field that is wrong."""
    return read_model(
        Record,
        path,
        what=said("the record"),
        no=lambda file: said("{path} is no record of this version", path=file),
        form=said("a JSON file written by --json"),
        expected=said("a file with schema {schema}", schema=SCHEMA),
        remedy=said("measure again with --json, or use the version that wrote it"),
    )
