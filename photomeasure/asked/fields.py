"""The table of questions: everything that a person can state of one rig, one row each.

Command line, list of rigs, page and record take names, limits, parsing and help from here. To add a question: a row here, a
field in `said.Said`, its way into the request in `requested`, and in what a record keeps (`record/schema.AskedPart`); tests
tell what is missing, and on the page a line of `start.html` where it shall stand.
"""

from __future__ import annotations

from collections.abc import Mapping

from calib.words.said import said
from photomeasure.asked import limits
from photomeasure.asked.case import LONGEST_NOTE
from photomeasure.asked.question import Door, Question, choice, file, named, number, text, yes_no
from photomeasure.asked.state import COUPLINGS
from photomeasure.asked.tape_said import tape_class_from, tape_to_from

# headings under which they stand
RIG, SINKS, KIT, CENTRE, RULE, TAPE, CAMERA, CASE = (
    said("The rig as photographed"),
    said("How far the ball sinks, for advice on drops"),
    said("The printed sheet"),
    said("The coupling's centre"),
    said("Rule and decision"),
    said("Tape"),
    said("Camera and bay"),
    said("The case"),
)

_ONE_READING: Mapping[Door, str] = {"batch": "a tape's reading is of one rig", "record": "kept in the record's tape"}
_OF_SERVER: Mapping[Door, str] = {"page": "a file of the machine that serves the page: nobody at a phone has it"}
_TWO_RECORDS: Mapping[Door, str] = {
    "batch": "the record from before is one rig's",
    "page": "chosen on the page of the rig from before",
    "record": "kept as what was carried over",
}


def _decision(typed: str, called: str) -> str:
    """The text as it stands, once it is seen to be a decision rule."""
    from photomeasure.rules.decision import parse_decision

    parse_decision(typed)
    return typed


QUESTIONS: tuple[Question, ...] = (
    choice(
        "coupling", COUPLINGS, at="coupling", option="--coupling", panel=RIG, next_rig=True,
        asks="Kind of coupling; ball-50 where it is not said.", page="coupling", label=said("The coupling"),
    ),
    yes_no(
        "coupled", at="state.coupled", option="--coupled", opposite="--uncoupled", panel=RIG,
        asks="Is the trailer connected?", page="coupled", label=said("Connected or not"),
    ),
    yes_no(
        "laden", at="state.laden", option="--laden", opposite="--unladen", panel=RIG,
        asks="Is the rig loaded?", page="laden", label=said("Laden or not"),
    ),
    yes_no(
        "level_ground", at="state.level_ground", option="--level-ground", opposite="--unknown-ground", panel=RIG, next_rig=True,
        asks="Is the ground hard and flat?", page="level_ground", label=said("The ground"),
    ),
    yes_no(
        "level_control", at="state.level_control", option="--level-control", opposite="--no-level-control", panel=RIG,
        asks="Does the vehicle level itself (springs of air that keep its height)? Some rules have a band for each.",
        page="level_control", label=said("The vehicle's level control"),
    ),
    number(
        "level_within_mm_per_m", limits.SLOPE_MM_PER_M, at="level_within_mm_per_m", option="--level-within", panel=RIG,
        asks="A level, laid at every place from sheet to coupling, showed so many mm per metre at most: how even the "
        "ground is. An even slope does no harm.",
        cell=said("mm per metre that a level showed at most, laid at every place from sheet to coupling"),
        page="level_within", label=said("The level's reading"),
    ),
    number(
        "ball_load_kg", limits.BALL_LOAD_KG, at="sag.ball_load_kg", option="--ball-load", panel=SINKS, of_one_rig=True,
        asks="Ball load of the trailer standing level, as it will be towed; with a stand test it tells how far the ball sinks.",
        cell=said("kg on the ball with the trailer level"), page="ball_load", label=said("The ball load"),
    ),
    number(
        "stand_mass_kg", limits.STAND_MASS_KG, at="sag.stand_mass_kg", option="--stand-mass", panel=SINKS, of_one_rig=True,
        asks="Somebody of this mass stood on the bar.",
        cell=said("kg that stood on the bar"), page="stand_mass", label=said("The mass on the bar"),
    ),
    number(
        "stand_drop_mm", limits.STAND_DROP_MM, at="sag.stand_drop_mm", option="--stand-drop", panel=SINKS, of_one_rig=True,
        asks="So far the ball went down under that mass.",
        cell=said("mm by which the ball went down under it"), page="stand_drop", label=said("How far the ball went down"),
    ),
    number(
        "load_drop_mm", limits.LOAD_DROP_MM, at="sag.load_drop_mm", option="--load-drop", panel=SINKS, of_one_rig=True,
        asks="So far the vehicle's own load lowers the ball.",
        cell=said("mm by which the vehicle's own load lowers the ball"), page="load_drop", label=said("The drop when loaded"),
    ),
    number(
        "bar_x_mm", limits.BAR_MM, at="bars.x_mm", option="--bar-x", panel=KIT, next_rig=True,
        asks="What a ruler reads on check bar X.",
        cell=said("mm read on the check bar"), page="bar_x", label=said("Check bar X"),
    ),
    number(
        "bar_y_mm", limits.BAR_MM, at="bars.y_mm", option="--bar-y", panel=KIT, next_rig=True,
        asks="What a ruler reads on check bar Y.",
        cell=said("mm read on the check bar"), page="bar_y", label=said("Check bar Y"),
    ),
    number(
        "pick_u_px", limits.PICK_U_PX, at="pick_sigma_px", option="--pick-u", panel=CENTRE, kept="pick_sigma_px",
        asks="Standard uncertainty of a picked centre in pixels; 0.5 where it is not said.",
        cell=said("pixels, standard uncertainty of the centre picked in this rig's photographs"),
        closed={"page": "worked out from the marks by the page itself"},
    ),
    number(
        "ball_diameter_mm", limits.BALL_DIAMETER_MM, at="ball_diameter_mm", option="--ball-diameter", panel=CENTRE, next_rig=True,
        asks="The ball's diameter: 50 where it is not said; 47.55 is 1 7/8 in, 50.8 is 2 in.",
        cell="mm", page="ball_diameter", label=said("The ball's diameter"),
    ),
    yes_no(
        "tag_by_gauge", at="tag_by_gauge", option="--tag-by-gauge", opposite="--tag-by-eye", panel=CENTRE, of_one_rig=True,
        asks="Was the centre tag's height carried over from the bare ball with the gauge of the kit's page 6? By eye where it is not "
        "said.",
        page="tag_by_gauge", label=said("How the centre tag was placed"),
    ),
    file(
        "from_record", at="carried", option="--from", panel=CENTRE, metavar="RECORD", of_one_rig=True,
        asks="Record of the bare ball with the same bar tag in sight: the centre is carried over from there.",
        expected=said("the path of a record, beside the list or absolute"),
        closed=_TWO_RECORDS,
    ),
    yes_no(
        "sheet_untouched", at="sheet_untouched", option="--sheet-untouched", opposite="--sheet-moved", panel=CENTRE, of_one_rig=True,
        asks="Since the photographs or the record from before: nobody touched the upright sheet, nor drove the rig. Tells the "
        "sinking more surely.",
        closed={door: why for door, why in _TWO_RECORDS.items() if door != "record"},
    ),
    named(
        "rule", at="rule", option="--rule", panel=RULE, metavar="NAME|FILE",
        asks="Band rule; the coupling's own where it is not said. photomeasure rules lists them.",
        expected=said("a rule's name, or the path of a rule file, beside the list or absolute"), page="rule", label=said("The rule"),
    ),
    named(
        "decision", at="decision", option="--decision", panel=RULE, metavar="NAME[=NUMBER]", parse=_decision,
        asks="How uncertainty enters the verdict, in place of the rule's own: simple (the figure alone), "
        "guarded=R (keeps R x U away from each end; 1 if left out), max-false-acceptance=P (at most that "
        "probability of accepting a height that is outside; 0.025 if left out).",
        expected="simple, guarded, guarded=R, max-false-acceptance, max-false-acceptance=P",
        closed={"page": "the page judges as the rule itself says"},
    ),
    number(
        "tape_mm", limits.TAPE_MM, at="", option="--tape", panel=TAPE, of_one_rig=True,
        asks="A tape's reading, to keep, to judge by the same rule and to compare.",
        cell=said("mm from the ground up to what tape_to says"), page="tape", label=said("The tape's reading"), closed=_ONE_READING,
    ),
    choice(
        "tape_to", ("middle", "top", "tag"), at="", option="--tape-to", panel=TAPE, parse=tape_to_from,
        asks="Up to what the tape was read: the coupling's middle (where it is not said), the top of the ball, or the "
        "middle of the centre tag. The program does the subtraction.",
        expected=said("middle, top or tag, or nothing for the coupling's middle"),
        page="tape_to", label=said("What the tape was read up to"), closed=_ONE_READING,
    ),
    number(
        "tape_flat_mm", limits.FLAT_MM, at="", option="--tape-flat", panel=TAPE, of_one_rig=True,
        asks="With --tape-to top: the width of the flat on the ball's top; 0 for none.",
        cell=said("mm, width of the flat on the ball's top"), page="tape_flat", label=said("The flat on the ball's top"), closed=_ONE_READING,
    ),
    choice(
        "tape_class", ("I", "II", "III"), at="", option="--tape-class", panel=TAPE, metavar="I|II|III", parse=tape_class_from,
        asks="Class printed on the tape (MI-008); II where it is not said.",
        expected=said("I, II or III, or nothing for class II"), page="tape_class", label=said("The tape's class"), closed=_ONE_READING,
    ),
    file(
        "camera", at="profile", option="--camera", panel=CAMERA, metavar="CAMERA.json",
        asks="Calibrated camera: a profile, or OpenCV's YAML.",
        expected=said("the path of a camera profile, beside the list or absolute"), closed=_OF_SERVER,
    ),
    file(
        "bay", at="bay", option="--bay", panel=CAMERA, metavar="BAY.json",
        asks="Surveyed markers in place of or beside the sheet.",
        expected=said("the path of a bay file, beside the list or absolute"), closed=_OF_SERVER,
    ),
    text(
        "rig", at="case.rig", option="--rig", panel=CASE, metavar="NAME", of_one_rig=True,
        asks="The rig's name or registration.", page="rig", label=said("The rig"),
        closed={"batch": "every rig of a folder or list has its own name"},
    ),
    text(
        "case", at="case.case", option="--case", panel=CASE, metavar="TEXT",
        asks="Number or name of the case.", page="case", label=said("The case"),
    ),
    text("by", at="case.by", option="--by", panel=CASE, metavar="NAME", asks="Who measures.", page="by", label=said("Who measures")),
    text(
        "place", at="case.place", option="--place", panel=CASE, metavar="TEXT",
        asks="Where the rig stood; never taken from the photograph.", page="place", label=said("The place"),
    ),
    text(
        "note", longest=LONGEST_NOTE, at="case.note", option="--note", panel=CASE, metavar="TEXT", of_one_rig=True,
        asks="Anything else to be kept with it.", page="note", label=said("The note"),
    ),
)  # fmt: skip
BY_NAME: Mapping[str, Question] = {question.name: question for question in QUESTIONS}


def open_at(door: Door) -> tuple[Question, ...]:
    """The questions that can be answered at a door, in their order."""
    return tuple(question for question in QUESTIONS if question.open_at(door))


# fields of a request that are no answer to a question of the table, and where they come from
NO_QUESTION: Mapping[str, str] = {
    "photos": "what is measured: arguments, the column photo, the page's upload",
    "centres_px": "one a photograph: --centre, columns centre_x and centre_y, a touch on the page; kept as centres_px",
    "before_photos": "how many photographs, the last ones, are from before: --before; kept as before_photos",
    "standing": "whether those photographs show somebody on the bar: --standing; kept as standing",
    "sag.stand_u_mm": "as photographs of a stand test tell it, never said",
    "sag.stand_with_height_mm2": "as photographs of a stand test tell it, never said",
    "profile_folder": "where remembered cameras and prints lie; what was found there is kept as remembered",
    "bars.x_u_mm": "how sure a card on the print was of bar X: kept with the remembered print",
    "bars.y_u_mm": "how sure a card on the print was of bar Y: kept with the remembered print",
    "bars.correlation": "how both bars go together where one picture of a card told them: kept with the remembered print",
    "bars.division_mm": "half a millimetre where boxes were ticked, known by where the readings come from",
    "unsaid": "which questions nobody answered, known by their answers",
    "by_default": "which questions a file of defaults answered, known by where the answers come from",
    "case.more": "further columns of a list, carried through",
}
