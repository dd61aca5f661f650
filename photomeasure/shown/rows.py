"""A record's parts in words for the page: rule, state, centre, camera, other figures."""

from __future__ import annotations

import re
from collections.abc import Mapping

from calib.words.said import Digits, figures, number, said, say, shown, with_or
from photomeasure.asked.request import BALL_DIAMETER_MM
from photomeasure.asked.tape_said import TO_WORDS
from photomeasure.record.schema import (
    BallPart,
    CentrePart,
    FactPart,
    PhotoPart,
    Record,
    RulePart,
    StatePart,
    TapePart,
    VerdictWord,
)
from photomeasure.rules.model import CONFIDENCE_LABELS, CONFIDENCE_WORDS
from photomeasure.scene.ball_sizes import SizeSeen, fitting, others_of
from photomeasure.shown import words
from photomeasure.shown.words import percent
from photomeasure.uncertainty.printed import printed, rounded

_COUPLINGS: Mapping[str, str] = {"ball-50": said("50 mm ball coupling"), "pin": said("pin coupling")}
_CENTRES: Mapping[str, str] = {
    "pick": said("marked by hand in the picture"),
    "tag": said("centre tag on the coupling's side"),
    "ball": said("the ball's outline, found by the program"),
    "carried": said("carried over by a bar tag from a photograph before it was hidden"),
}
_KINDS: Mapping[str, str] = {
    "assumed": said("assumed, a phone's main camera"),
    "exif": said("focal length from the photograph's EXIF data"),
    "profile": said("calibrated profile"),
}


def rule_rows(rule: RulePart, *, judged: bool = True) -> list[tuple[str, str]]:
    """Label and text: the band and what it rests on; without band and decision where nothing was judged."""
    decision = shown(rule.decision)
    if rule.guard_band_mm and rounded(rule.guard_band_mm) != "0.0":
        decision += f" = {figures(rounded(rule.guard_band_mm))} mm"
    band = words.band(rule) or say("no band is known to apply")
    titled = say("{title} ({name}), edition {edition}", title=rule.title, name=rule.name, edition=_edition(rule))
    rows = [
        (said("Rule"), f"{titled}: {band}" if judged else titled),
        (said("Source"), rule.source),
        (said("Confidence"), confidence_words(rule.confidence)),
        (said("Decision"), decision),
    ]
    return rows if judged and words.band(rule) is not None else rows[:-1]


def _edition(rule: RulePart) -> str:
    return say("not stated") if rule.edition == "not stated" else rule.edition


def rule_says(rule: RulePart | None) -> tuple[str, ...]:
    """What has to be known of a rule beside its band: its notes, and what other sources say."""
    if rule is None:
        return ()
    return (*rule.notes, *(say("Another source says otherwise: {other}", other=other) for other in rule.contradictions))


def confidence_words(label: str) -> str:
    """The confidence label, and what it means."""
    if label not in CONFIDENCE_WORDS:
        return label
    meant = shown(CONFIDENCE_WORDS[label])
    return f"{shown(CONFIDENCE_LABELS[label])}: {meant}" if label in CONFIDENCE_LABELS else meant


def state_words(state: StatePart) -> str:
    """The state in which the rig was photographed, as it was stated."""
    parts = (
        shown(_COUPLINGS.get(state.coupling, state.coupling)),
        _either(
            state.coupled, say("trailer connected"), say("trailer not connected"), say("whether connected: not stated")
        ),
        _either(state.laden, say("laden"), say("unladen"), say("whether laden: not stated")),
        _either(
            state.level_ground, say("hard, flat ground"), say("ground not known to be flat"), say("ground: not stated")
        ),
        *(
            ()
            if state.level_control is None
            else (_either(state.level_control, say("levels itself"), say("does not level itself"), ""),)
        ),
    )
    read = state.level_within_mm_per_m
    parts += () if state.sinking is None else (say("how far it sinks, as stated: {sinking}", sinking=state.sinking),)
    parts += () if read is None else (say("a level read: within {read:g} mm per metre", read=read),)
    return "; ".join(parts)


_FACT_WORDS: Mapping[tuple[str, str], str] = {
    ("coupled", "yes"): said("trailer connected"),
    ("coupled", "no"): said("trailer not connected"),
    ("laden", "yes"): said("trailer loaded"),
    ("laden", "no"): said("trailer not loaded"),
    ("level-ground", "yes"): said("ground hard and flat"),
    ("level-ground", "no"): said("ground not hard and flat"),
    ("ball", "pin"): said("pin"),
}


def fact_rows(record: Record) -> list[tuple[str, str]]:
    """Label and text: what the sheet in the photograph told, and what was remembered of its print."""
    remembered = (
        said("Remembered")
        if record.print_number is None
        else said("Remembered (print {number:06d})", number=record.print_number)
    )
    rows = []
    for source, label in (
        ("ticked", said("Ticked on sheet")),
        ("remembered", remembered),
        ("settings", said("From your defaults")),
    ):
        told = [_fact_words(fact) for fact in record.facts if fact.from_ == source]
        if told:
            rows.append((label, ", ".join(told)))
    return rows


def _fact_words(fact: FactPart) -> str:
    if fact.question in ("bar-x", "bar-y"):
        return say("bar {axis} {value} mm", axis=fact.question[-1].upper(), value=Digits(fact.value))
    if fact.question in ("second-bar-x", "second-bar-y"):
        return say(
            "bar {axis} of the second sheet {value} mm", axis=fact.question[-1].upper(), value=Digits(fact.value)
        )
    known = _FACT_WORDS.get((fact.question, fact.value))
    if known is not None:
        return shown(known)
    if fact.question == "ball":
        return say("ball {value} mm", value=Digits(fact.value))
    return f"{fact.question} {fact.value} mm"


def _either(value: bool | None, yes: str, no: str, unknown: str) -> str:
    return unknown if value is None else yes if value else no


def chance_words(record: Record) -> str:
    """The probabilities of the three places against the band; empty where no band applies."""
    found = ((say("inside"), record.p_inside), (say("above"), record.p_above), (say("below"), record.p_below))
    return "; ".join(f"{place} {percent(p)}" for place, p in found if p is not None)


def figure_rows(record: Record) -> list[tuple[str, str]]:
    """The figures behind the answer, with one digit more than on the first page."""
    if record.height_mm is None or record.u_mm is None or record.U_mm is None or record.interval_mm is None:
        return []
    low, high = record.interval_mm
    U = f"U = {number(record.U_mm, '.2f')} mm"
    if record.coverage is not None:
        U = say("{U}, coverage {percent:g} %", U=U, percent=100 * record.coverage)
    if record.coverage_factor is not None:
        U += f", k = {number(record.coverage_factor, '.2f')}"
    rows = [
        (said("Height"), say("{mm:.2f} mm above the ground under the coupling", mm=record.height_mm)),
        (said("Standard uncertainty"), f"u = {number(record.u_mm, '.3f')} mm"),
        (said("Expanded uncertainty"), U),
        (said("Interval"), say("{low:.2f} to {high:.2f} mm", low=low, high=high)),
        (said("Probability"), chance_words(record)),
    ]
    if (check := record.monte_carlo) is not None:
        low, high = check.interval_mm
        drawn = say(
            "Height {height_mm:.2f} mm, u = {u_mm:.3f} mm, interval {low:.2f} to {high:.2f} mm",
            height_mm=check.height_mm,
            u_mm=check.u_mm,
            low=low,
            high=high,
        )
        rows.append((said("Monte Carlo"), f"{shown(check.sentence)} {drawn}."))
    if (other := record.ambiguity) is not None:
        rows.append(
            (
                said("Second solution"),
                say(
                    "Photograph {photo} also fits another camera position, with chi-squared larger by "
                    "{extra_chi2:.1f}; the height would be {other_height_mm:.1f} mm. It is in the budget.",
                    photo=other.photo + 1,
                    extra_chi2=other.extra_chi2,
                    other_height_mm=other.other_height_mm,
                ),
            )
        )
    return rows


def camera_words(record: Record) -> str:
    """How the camera is known and what came out; empty where nothing was measured."""
    camera = record.camera
    if camera is None:
        return ""
    kind = shown(_KINDS.get(camera.kind, camera.kind))
    if camera.focal_px is None or camera.u_focal_px is None:
        return f"{kind} ({shown(camera.source)})"
    focal = say(
        "focal length {focal_px:.1f} px, u = {u_focal_px:.1f} px",
        focal_px=camera.focal_px,
        u_focal_px=camera.u_focal_px,
    )
    return f"{kind} ({shown(camera.source)}); {focal}"


def ball_words(record: Record, ball: BallPart) -> str:
    """Its diameter by the photographs, and which other balls it cannot be told from."""
    low, high = ball.diameter_mm - 2.0 * ball.u_mm, ball.diameter_mm + 2.0 * ball.u_mm
    across = say("{figure} across by its outline", figure=printed(ball.diameter_mm, (low, high)).text)
    stated_mm = BALL_DIAMETER_MM if record.asked is None else record.asked.ball_diameter_mm
    alike = {*fitting(SizeSeen(diameter_mm=ball.diameter_mm, u_mm=ball.u_mm), 2.0)} & {*others_of(stated_mm)}
    if not alike:
        return across
    sizes = [number(size, "g") for size in sorted(alike)]
    return say("{across}; it cannot be told from a ball of {sizes} mm", across=across, sizes=shown(with_or(sizes)))


def centre_words(centre: CentrePart | None) -> str:
    """How the coupling's centre was found and where, in each photograph."""
    if centre is None:
        return ""
    places = [
        say("photograph {i}: not seen", i=i)
        if px is None
        else say("photograph {i}: ({x:.1f}, {y:.1f}) px", i=i, x=px[0], y=px[1])
        for i, px in enumerate(centre.px, start=1)
    ]
    return ". ".join(("; ".join((shown(_CENTRES[centre.source]), *places)), *map(shown, centre.checks)))


def tape_rows(tape: TapePart) -> list[tuple[str, str]]:
    """A tape's reading as a height of the centre, the comparison, and the best value of both where they agree."""
    read = say("{mm:g} mm up to {place}", mm=tape.reading_mm, place=TO_WORDS[tape.from_])
    if tape.from_ == "top" and tape.flat_mm:
        read = say("{read}, flat {mm:g} mm wide", read=read, mm=tape.flat_mm)
    elif tape.from_ == "top" and tape.flat_mm is not None:
        read = say("{read}, no flat", read=read)
    height = _placed(f"{tape_figure(tape)} (95 %)", tape.verdict, tape.p_inside)
    compared = shown(tape.sentence)
    rows = [
        (
            said("Tape"),
            say("{height}; read: {read}, class {tape_class}", height=height, read=read, tape_class=tape.tape_class),
        ),
        (said("Compared"), compared if tape.En is None else f"{compared} {_en(tape.En)}"),
    ]
    if (best := tape.together) is not None:
        both = printed(best.height_mm, best.interval_mm)
        figure = _placed(f"{shown(both.text)}, {shown(both.interval)}", best.verdict, best.p_inside)
        if tape.from_ == "tag":
            together = say(
                "{figure}. Each is weighed by its uncertainty, and the two are taken to share nothing, but how the tag was placed.",
                figure=figure,
            )
        else:
            together = say(
                "{figure}. Each is weighed by its uncertainty, and the two are taken to share nothing.", figure=figure
            )
        rows.append((said("Together"), together))
    return rows


def tape_figure(tape: TapePart) -> str:
    """ "412.0 ± 1.7 mm": the centre's height by the tape."""
    from photomeasure.record.tape import COVERAGE_FACTOR

    U_mm = COVERAGE_FACTOR * tape.u_mm
    return shown(printed(tape.centre_mm, (tape.centre_mm - U_mm, tape.centre_mm + U_mm)).text)


def _en(en: float) -> str:
    return say("Difference over combined uncertainty (En): {en:.2f}; up to 1 agrees.", en=en)


def _placed(figure: str, verdict: VerdictWord | None, p_inside: float | None) -> str:
    """The figure with its place against the band."""
    if verdict is None:
        return figure
    placed = f"{figure}: {shown(words.WITHIN[verdict])}"
    if p_inside is None:
        return placed
    return say("{placed}, probability inside {chance}", placed=placed, chance=percent(p_inside))


def case_words(record: Record) -> list[str]:
    """What was said of the case, one line each; the rig itself stands above the report."""
    if record.asked is None:
        return []
    case = record.asked.case
    stated = [
        (say("Case"), case.case),
        (say("Place"), case.place),
        (say("Measured by"), case.by),
        (say("Note"), case.note),
        *case.more.items(),
    ]
    return [f"{label}: {text}" for label, text in stated if text]


def file_name(photo: PhotoPart) -> str:
    """The file's name without its folder."""
    return re.split(r"[\\/]", photo.file)[-1]
