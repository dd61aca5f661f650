"""What a dealer types for a case, checked."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from calib.kit.kit import PAPERS
from calib.outcome.errors import InputError
from calib.words.language import LANGUAGES
from calib.words.said import said
from photomeasure.asked.case import case_text
from photomeasure.web.answers import Answers, checked
from photomeasure.web.enquiries.enquiry import About

_LONGEST = {
    "rig": 80,
    "customer": 80,
    "by": 80,
    "note": 1000,
    "ball_diameter": 12,
    "coupling": 20,
    "rule": 60,
    "paper": 10,
    "language": 10,
    "print_number": 6,
}
_COUPLING_FIELDS = ("coupling", "ball_diameter", "rule")


def about_from(form: Mapping[str, object], prints: Collection[str] = ()) -> tuple[About, dict[str, InputError]]:
    """As typed, and what is wrong by field. prints: numbers of those whose bars are remembered."""
    wrong: dict[str, InputError] = {}
    typed_of = {}
    for name, longest in _LONGEST.items():
        typed = form.get(name)
        typed_of[name] = " ".join(typed.split())[:longest] if isinstance(typed, str) else ""
    named = (
        ("rig", said("The rig"), said("The rig has no name."), said("its name or registration")),
        ("customer", said("The customer"), said("The customer has no name."), said("a name")),
    )
    for name, what, missing, such_as in named:
        try:
            if case_text(typed_of[name], what) is None:
                wrong[name] = InputError(missing, expected=such_as, remedy=said("type it"))
        except InputError as error:
            wrong[name] = error
    typed_of["coupling"] = typed_of["coupling"] or "ball-50"
    typed_of["paper"] = typed_of["paper"] if typed_of["paper"] in PAPERS else "a4"
    typed_of["language"] = typed_of["language"] if typed_of["language"] in LANGUAGES else ""
    sent = typed_of["print_number"] in prints and "by_post" in form
    typed_of["print_number"] = typed_of["print_number"] if sent else ""
    answers = Answers(
        **{name: typed_of[name] for name in _COUPLING_FIELDS}, rig=typed_of["rig"], by=typed_of["customer"]
    )
    faults = checked(answers)[1]
    wrong.update({name: fault for name, fault in faults.items() if name in _COUPLING_FIELDS})
    about = About(**typed_of, by_post="by_post" in form, shows_figure="shows_figure" in form)
    return about, wrong
