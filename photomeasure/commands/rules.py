"""`photomeasure rules [NAME]`: the rules that are built in, or one in full."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calib.words.said import joined, said

if TYPE_CHECKING:
    from photomeasure.rules.model import Band, Rule
    from photomeasure.shown.page_of_text import PageOfText

_COUPLINGS = {"ball-50": said("50 mm ball"), "pin": said("pin")}


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
    from photomeasure.shown.rows import confidence_words

    page.heading(said("Rules that are built in"))
    own = {rule: coupling for coupling, rule in DEFAULT_RULES.items()}
    for name in available_rules():
        rule = load_rule(name)
        lines = [_bands(rule)]
        lines += [said("confidence: {confidence}", confidence=confidence_words(rule.confidence))] if rule.bands else []
        if name in own:
            lines.append(said("taken for the coupling {coupling} where no rule is named", coupling=own[name]))
        lines += [said("another source says: {text}", text=other.text) for other in rule.contradictions]
        page.section(joined([name, rule.title], ": "), lines)
    page.section(
        said("More"),
        [
            said("photomeasure rules NAME shows one in full, with its source and its notes."),
            said("measure --rule FILE judges by a rule of your own: start from a copy of one that is built in."),
            said("Rules change, and a photograph is no certificate: look your own edition up before you rely on one."),
        ],
    )


def _show(page: PageOfText, rule: Rule) -> None:
    from photomeasure.shown.rows import confidence_words

    page.heading(joined([rule.name, rule.title], ": "))
    page.facts(
        [
            (said("Where"), rule.jurisdiction),
            (said("Couplings"), joined(_COUPLINGS.get(one, one) for one in rule.couplings)),
            (said("Source"), rule.source),
            (said("Edition"), rule.edition),
            (said("Confidence"), confidence_words(rule.confidence)),
            (said("Decision"), rule.decision.text),
        ]
    )
    page.section(said("Bands"), [_band(band) for band in rule.bands] or [NONE])
    page.section(said("Notes"), list(rule.notes))
    page.section(said("Other sources say"), [other.text for other in rule.contradictions])


NONE = said("no band found in what could be read")


def _bands(rule: Rule) -> str:
    bands = [said("{band} for {state}", band=band.text, state=band.state.text) for band in rule.bands]
    return joined(bands, "; ") if bands else NONE


def _band(band: Band) -> str:
    state = band.state.text
    if band.note is None:
        return said("{band}, for {state}", band=band.text, state=state)
    return said("{band}, for {state}. {note}", band=band.text, state=state, note=band.note)
