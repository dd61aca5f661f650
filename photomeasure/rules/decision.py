"""A decision rule as a person types it: a name, and where it takes one a number."""

from __future__ import annotations

from pydantic import ValidationError

from calib.outcome.errors import InputError
from calib.outcome.plain_faults import in_words
from calib.words.said import said
from photomeasure.rules.model import Decision

DECISION_FORMS = ("simple", "guarded", "guarded=R", "max-false-acceptance", "max-false-acceptance=P")
_NUMBER_OF = {"guarded": "guard_factor", "max-false-acceptance": "max_false_acceptance"}


def parse_decision(text: str) -> Decision:
    """A decision rule from `simple`, `guarded`, `guarded=0.83`, `max-false-acceptance` or `max-false-acceptance=0.01`.

    Names and numbers are those of a rule file: R the guard band over U, 0 to 5; P a probability, above 0 and below 0.5.
    Without a number the rule files' defaults hold. Raises InputError.
    """
    name, equals, typed = (part.strip() for part in text.strip().lower().partition("="))
    fields: dict[str, object] = {"kind": name}
    try:
        if equals:
            fields[_NUMBER_OF[name]] = float(typed)
        return Decision.model_validate(fields)
    except (KeyError, ValueError) as error:  # a ValidationError is a ValueError
        letter = "P" if name == "max-false-acceptance" else "R"
        what = said("{text} is no decision rule.", text=repr(text))
        if isinstance(error, ValidationError) and name in _NUMBER_OF:
            what = said(
                "{text} is no decision rule ({letter} {why}).",
                text=repr(text),
                letter=letter,
                why=in_words(error.errors()[0]),
            )
        raise InputError(
            what,
            expected=said(
                "{listed}; R is 0 to 5 (times U), P a probability above 0 and below 0.5, such as 0.025",
                listed=", ".join(DECISION_FORMS),
            ),
            remedy=said(
                "simple: the figure against the band's ends; guarded: the whole interval must be inside; "
                "max-false-acceptance: at most that probability of accepting a height that is outside"
            ),
        ) from error
