"""A record's parts in words for the page: rule, state, centre, camera, other figures."""

from __future__ import annotations

import re
from collections.abc import Mapping

from photomeasure.asked.tape_said import TO_WORDS
from photomeasure.record.schema import (
    CentrePart,
    FactPart,
    PhotoPart,
    Record,
    RulePart,
    StatePart,
    TapePart,
    VerdictWord,
)
from photomeasure.record.tape import COVERAGE_FACTOR
from photomeasure.rules.model import CONFIDENCE_WORDS
from photomeasure.shown import words
from photomeasure.shown.words import percent
from photomeasure.uncertainty.printed import printed, rounded

_CONFIDENCE: Mapping[str, str] = {label: f"{label}: {said}" for label, said in CONFIDENCE_WORDS.items()} | {
    "common-practice": CONFIDENCE_WORDS["common-practice"]
}
_COUPLINGS: Mapping[str, str] = {"ball-50": "50 mm ball coupling", "pin": "pin coupling"}
_CENTRES: Mapping[str, str] = {
    "pick": "marked by hand in the picture",
    "tag": "centre tag on the coupling's side",
    "ball": "the ball's outline, found by the program",
    "carried": "carried over by a bar tag from a photograph before it was hidden",
}
_KINDS: Mapping[str, str] = {
    "assumed": "assumed, a phone's main camera",
    "exif": "focal length from the photograph's EXIF data",
    "profile": "calibrated profile",
}


def rule_rows(rule: RulePart, *, judged: bool = True) -> list[tuple[str, str]]:
    """Label and text: the band and what it rests on; without band and decision where nothing was judged."""
    guard = (
        f" = {rounded(rule.guard_band_mm)} mm" if rule.guard_band_mm and rounded(rule.guard_band_mm) != "0.0" else ""
    )
    band = words.band(rule) or "no band is known to apply"
    rows = [
        ("Rule", f"{rule.title} ({rule.name}), edition {rule.edition}" + (f": {band}" if judged else "")),
        ("Source", rule.source),
        ("Confidence", confidence_words(rule.confidence)),
        ("Decision", f"{rule.decision}{guard}"),
    ]
    return rows if judged and words.band(rule) is not None else rows[:-1]


def rule_says(rule: RulePart | None) -> tuple[str, ...]:
    """What has to be known of a rule beside its band: its notes, and what other sources say."""
    if rule is None:
        return ()
    return (*rule.notes, *(f"Another source says otherwise: {other}" for other in rule.contradictions))


def confidence_words(label: str) -> str:
    """The confidence label, and what it means."""
    return _CONFIDENCE.get(label, label)


def state_words(state: StatePart) -> str:
    """The state in which the rig was photographed, as it was stated."""
    parts = (
        _COUPLINGS.get(state.coupling, state.coupling),
        _either(state.coupled, "trailer connected", "trailer not connected", "whether connected: not stated"),
        _either(state.laden, "laden", "unladen", "whether laden: not stated"),
        _either(state.level_ground, "hard, flat ground", "ground not known to be flat", "ground: not stated"),
        *(
            ()
            if state.level_control is None
            else (_either(state.level_control, "levels itself", "does not level itself", ""),)
        ),
    )
    read = state.level_within_mm_per_m
    parts += () if state.sinking is None else (f"how far it sinks, as stated: {state.sinking}",)
    return "; ".join(parts) + ("" if read is None else f"; a level read: within {read:g} mm per metre")


_FACT_WORDS: Mapping[tuple[str, str], str] = {
    ("coupled", "yes"): "trailer connected",
    ("coupled", "no"): "trailer not connected",
    ("laden", "yes"): "trailer loaded",
    ("laden", "no"): "trailer not loaded",
    ("level-ground", "yes"): "ground hard and flat",
    ("level-ground", "no"): "ground not hard and flat",
    ("ball", "pin"): "pin",
}


def fact_rows(record: Record) -> list[tuple[str, str]]:
    """Label and text: what the sheet in the photograph told, and what was remembered of its print."""
    print_number = "" if record.print_number is None else f" (print {record.print_number:06d})"
    rows = []
    for source, label in (
        ("ticked", "Ticked on sheet"),
        ("remembered", f"Remembered{print_number}"),
        ("settings", "From your defaults"),
    ):
        told = [_fact_words(fact) for fact in record.facts if fact.from_ == source]
        if told:
            rows.append((label, ", ".join(told)))
    return rows


def _fact_words(fact: FactPart) -> str:
    if fact.question in ("bar-x", "bar-y"):
        return f"bar {fact.question[-1].upper()} {fact.value} mm"
    said = _FACT_WORDS.get((fact.question, fact.value))
    return f"{fact.question} {fact.value} mm" if said is None else said


def _either(value: bool | None, yes: str, no: str, unknown: str) -> str:
    return unknown if value is None else yes if value else no


def chance_words(record: Record) -> str:
    """The probabilities of the three places against the band; empty where no band applies."""
    found = (("inside", record.p_inside), ("above", record.p_above), ("below", record.p_below))
    return "; ".join(f"{place} {percent(p)}" for place, p in found if p is not None)


def figure_rows(record: Record) -> list[tuple[str, str]]:
    """The figures behind the answer, with one digit more than on the first page."""
    if record.height_mm is None or record.u_mm is None or record.U_mm is None or record.interval_mm is None:
        return []
    low, high = record.interval_mm
    coverage = f", coverage {100 * record.coverage:g} %" if record.coverage is not None else ""
    if record.coverage_factor is not None:
        coverage += f", k = {record.coverage_factor:.2f}"
    rows = [
        ("Height", f"{record.height_mm:.2f} mm above the ground under the coupling"),
        ("Standard uncertainty", f"u = {record.u_mm:.3f} mm"),
        ("Expanded uncertainty", f"U = {record.U_mm:.2f} mm{coverage}"),
        ("Interval", f"{low:.2f} to {high:.2f} mm"),
        ("Probability", chance_words(record)),
    ]
    if (check := record.monte_carlo) is not None:
        low, high = check.interval_mm
        drawn = f"Height {check.height_mm:.2f} mm, u = {check.u_mm:.3f} mm, interval {low:.2f} to {high:.2f} mm"
        rows.append(("Monte Carlo", f"{check.sentence} {drawn}."))
    if (other := record.ambiguity) is not None:
        rows.append(
            (
                "Second solution",
                f"Photograph {other.photo + 1} also fits another camera position, with chi-squared larger by "
                f"{other.extra_chi2:.1f}; the height would be {other.other_height_mm:.1f} mm. It is in the budget.",
            )
        )
    return rows


def camera_words(record: Record) -> str:
    """How the camera is known and what came out; empty where nothing was measured."""
    camera = record.camera
    if camera is None:
        return ""
    kind = _KINDS.get(camera.kind, camera.kind)
    focal = f"focal length {camera.focal_px:.1f} px, u = {camera.u_focal_px:.1f} px"
    return f"{kind} ({camera.source}); {focal}"


def centre_words(centre: CentrePart | None) -> str:
    """How the coupling's centre was found and where, in each photograph."""
    if centre is None:
        return ""
    places = [
        f"photograph {i}: not seen" if px is None else f"photograph {i}: ({px[0]:.1f}, {px[1]:.1f}) px"
        for i, px in enumerate(centre.px, start=1)
    ]
    return ". ".join(("; ".join((_CENTRES[centre.source], *places)), *centre.checks))


def tape_rows(tape: TapePart) -> list[tuple[str, str]]:
    """A tape's reading as a height of the centre, the comparison, and the best value of both where they agree."""
    read = f"{tape.reading_mm:g} mm up to {TO_WORDS[tape.from_]}"
    if tape.from_ == "top" and tape.flat_mm is not None:
        read += f", flat {tape.flat_mm:g} mm wide" if tape.flat_mm else ", no flat"
    rows = [
        (
            "Tape",
            f"{tape_figure(tape)} (95 %){_place(tape.verdict, tape.p_inside)}; read: {read}, class {tape.tape_class}",
        ),
        ("Compared", tape.sentence + ("" if tape.En is None else f" {_en(tape.En)}")),
    ]
    if (best := tape.together) is not None:
        both = printed(best.height_mm, best.interval_mm)
        rows.append(
            (
                "Together",
                f"{both.text}, {both.interval}{_place(best.verdict, best.p_inside)}. Each is weighed by its uncertainty, "
                f"and the two are taken to share nothing{', but how the tag was placed' if tape.from_ == 'tag' else ''}.",
            )
        )
    return rows


def tape_figure(tape: TapePart) -> str:
    """ "412.0 ± 1.7 mm": the centre's height by the tape."""
    U_mm = COVERAGE_FACTOR * tape.u_mm
    return printed(tape.centre_mm, (tape.centre_mm - U_mm, tape.centre_mm + U_mm)).text


def _en(en: float) -> str:
    return f"Difference over combined uncertainty (En): {en:.2f}; up to 1 agrees."


def _place(verdict: VerdictWord | None, p_inside: float | None) -> str:
    if verdict is None:
        return ""
    chance = "" if p_inside is None else f", probability inside {percent(p_inside)}"
    return f": {words.TITLES[verdict].lower()}{chance}"


def case_words(record: Record) -> list[str]:
    """What was said of the case, one line each; the rig itself stands above the report."""
    if record.asked is None:
        return []
    case = record.asked.case
    said = [
        ("Case", case.case),
        ("Place", case.place),
        ("Measured by", case.by),
        ("Note", case.note),
        *case.more.items(),
    ]
    return [f"{label}: {text}" for label, text in said if text]


def file_name(photo: PhotoPart) -> str:
    """The file's name without its folder."""
    return re.split(r"[\\/]", photo.file)[-1]
