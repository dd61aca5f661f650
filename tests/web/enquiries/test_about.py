"""What a dealer types for a case: a print's number counts where that print is known and sent by post."""

from __future__ import annotations

import pytest

from photomeasure.web.enquiries.about_from import about_from

TYPED = {"rig": " Ferncombe  7 ", "customer": "M. Hale", "print_number": "468779"}


@pytest.mark.parametrize(
    ("more", "prints", "number"),
    [({"by_post": "on"}, ["468779"], "468779"), ({}, ["468779"], ""), ({"by_post": "on"}, ["000001"], "")],
)
def test_a_prints_number_is_kept_where_that_print_is_sent(more: dict[str, str], prints: list[str], number: str) -> None:
    about, wrong = about_from({**TYPED, **more}, prints)
    assert not wrong and about.print_number == number and about.rig == "Ferncombe 7"
    assert about.by_post is bool(more) and not about.shows_figure


def test_a_case_needs_a_rig_and_a_customer_and_a_rule_that_is_there() -> None:
    assert set(about_from({"rig": " ", "customer": ""})[1]) == {"rig", "customer"}
    typed = {**TYPED, "coupling": "other-ball", "rule": "nowhere", "ball_diameter": "500"}
    assert set(about_from(typed)[1]) == {"rule", "ball_diameter"}
