"""`photomeasure rules [NAME]`: the rules that are built in, or one in full."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from photomeasure.rules.model import Rule
    from photomeasure.shown.page_of_text import PageOfText

_COUPLINGS = {"ball-50": "50 mm ball", "pin": "pin"}


def run(name: str | None) -> int:
    """Print; returns the exit code 0. Raises InputError for a name that is none and a file that cannot be used."""
    from photomeasure.rules.load import load_rule
    from photomeasure.shown.page_of_text import PageOfText

    if name is not None:
        _show(PageOfText(), load_rule(name))
    else:
        _list(PageOfText())
    return 0


def _list(page: PageOfText) -> None:
    from photomeasure.rules.load import DEFAULT_RULES, available_rules, load_rule

    page.heading("Rules that are built in")
    own = {rule: coupling for coupling, rule in DEFAULT_RULES.items()}
    for name in available_rules():
        rule = load_rule(name)
        default = f"; taken for the coupling {own[name]} where no rule is named" if name in own else ""
        kept = f" (confidence: {rule.confidence})" if rule.bands else ""
        lines = [f"{_bands(rule)}{kept}{default}"]
        lines += [f"another source says: {other.text}" for other in rule.contradictions]
        page.section(f"{name}: {rule.title}", lines)
    page.section(
        "More",
        [
            "photomeasure rules NAME shows one in full, with its source and its notes.",
            "measure --rule FILE judges by a rule of your own: start from a copy of one that is built in.",
            "Rules change, and a photograph is no certificate: look your own edition up before you rely on one.",
        ],
    )


def _show(page: PageOfText, rule: Rule) -> None:
    from photomeasure.rules.model import CONFIDENCE_WORDS

    page.heading(f"{rule.name}: {rule.title}")
    said = CONFIDENCE_WORDS[rule.confidence]
    page.facts(
        [
            ("Where", rule.jurisdiction),
            ("Couplings", ", ".join(_COUPLINGS.get(one, one) for one in rule.couplings)),
            ("Source", rule.source),
            ("Edition", rule.edition),
            ("Confidence", f"{rule.confidence}: {said}"),
            ("Decision", rule.decision.text),
        ]
    )
    page.section("Bands", [f"{band.text}, for {band.state.text}{_note(band.note)}" for band in rule.bands] or [NONE])
    page.section("Notes", list(rule.notes))
    page.section("Other sources say", [other.text for other in rule.contradictions])


NONE = "no band found in what could be read"


def _bands(rule: Rule) -> str:
    return "; ".join(f"{band.text} for {band.state.text}" for band in rule.bands) or NONE


def _note(note: str | None) -> str:
    return "" if note is None else f". {note}"
