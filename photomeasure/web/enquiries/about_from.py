"""What a dealer types for a case, checked."""

from __future__ import annotations

from collections.abc import Mapping

from calib.kit.kit import PAPERS
from calib.outcome.errors import InputError
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
}
_COUPLING_FIELDS = ("coupling", "ball_diameter", "rule")


def about_from(form: Mapping[str, object]) -> tuple[About, dict[str, InputError]]:
    """As typed, and what is wrong by field."""
    wrong: dict[str, InputError] = {}
    said = {}
    for name, longest in _LONGEST.items():
        typed = form.get(name)
        said[name] = " ".join(typed.split())[:longest] if isinstance(typed, str) else ""
    for name, what, such_as in (("rig", "The rig", "its name or registration"), ("customer", "The customer", "a name")):
        try:
            if case_text(said[name], what) is None:
                wrong[name] = InputError(f"{what} has no name.", expected=such_as, remedy="type it")
        except InputError as error:
            wrong[name] = error
    said["coupling"] = said["coupling"] or "ball-50"
    said["paper"] = said["paper"] if said["paper"] in PAPERS else "a4"
    answers = Answers(**{name: said[name] for name in _COUPLING_FIELDS}, rig=said["rig"], by=said["customer"])
    faults = checked(answers)[1]
    wrong.update({name: fault for name, fault in faults.items() if name in _COUPLING_FIELDS})
    about = About(**said, by_post="by_post" in form, shows_figure="shows_figure" in form)
    return about, wrong
