"""What a dealer asks one customer for, and what has come of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Worth = Literal["good", "could-be-better", "not-usable"]
BEFORE = "before_"  # of an answer that was so when the photographs of an earlier round were taken
QUESTIONS = ("coupled", "laden", "level_ground", "bars")  # in this order, a screen each


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the dealer typed. by: who answers the customer; by_post: the printed sheet is sent, not printed there;
    shows_figure: the customer is told the height; paper: of the kit; language: of the customer's pages, "" for the browser's;
    print_number: of the sheet that is sent, where its check bars are remembered: then nobody is asked for them."""

    rig: str
    customer: str
    coupling: str = "ball-50"
    ball_diameter: str = ""
    rule: str = ""
    by: str = ""
    note: str = ""
    paper: str = "a4"
    language: str = ""
    print_number: str = ""
    by_post: bool = False
    shows_figure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What was seen in a photograph: a sentence for the customer, and how much it is worth.

    px, u_px: what could be the ball's middle, in pixels of the photograph, and how unsure a yes to it is; is_ball: the
    customer's answer, None as long as there is none.
    """

    worth: Worth
    sentence: str
    px: tuple[float, float] | None = None
    u_px: float | None = None
    is_ball: bool | None = None

    @property
    def asks(self) -> bool:
        """Whether the customer is to say if that is the ball."""
        return self.px is not None and self.is_ball is None

    @property
    def centre(self) -> tuple[float, float] | None:
        """Where the ball is by the customer's word."""
        return self.px if self.is_ball else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """file: its name in the enquiry's folder; name: the customer's, to be shown only; left_out: taken again."""

    number: int
    file: str
    name: str
    sha256: str
    bytes: int
    round: int
    arrived: float
    left_out: bool
    looked: Looked | None

    @property
    def usable(self) -> bool:
        return not self.left_out and not (self.looked is not None and self.looked.worth == "not-usable")


@dataclass(frozen=True, slots=True, kw_only=True)
class Enquiry:
    """Times are seconds since 1970. answers: the customer's, by the names of the page's fields; ask: what is asked for
    once more, or empty; round: photographs of one round show the rig standing still."""

    key: str
    folder: str
    about: About
    answers: Mapping[str, str] = field(default_factory=dict)
    round: int = 1
    ask: str = ""
    made: float
    opened: float | None = None
    sent: float | None = None
    news: float | None = None
    seen: float | None = None
    closed: float | None = None

    @property
    def is_new(self) -> bool:
        """Whether the customer has done something that the dealer has not looked at."""
        return self.news is not None and (self.seen is None or self.seen < self.news)

    @property
    def next_question(self) -> str | None:
        """The first that has no answer yet."""
        known = {"bars"} if self.about.print_number else set()
        return next((question for question in QUESTIONS if question not in {*self.answers, *known}), None)
