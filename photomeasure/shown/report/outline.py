"""A place in the file that its table of contents leads to, and whose page is known afterwards."""

from __future__ import annotations

from reportlab.platypus import Flowable

from photomeasure.shown.report.style import printable


class Mark(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Takes no room; pages: gets the number of its page under its key while it is drawn."""

    def __init__(self, key: str, title: str, pages: dict[str, int]) -> None:
        super().__init__()
        self.width = self.height = 0.0
        self._key, self._title, self._pages = key, printable(title), pages

    def wrap(self, *_: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        self.canv.bookmarkPage(self._key)
        self.canv.addOutlineEntry(self._title, self._key, level=0)
        self._pages[self._key] = self.canv.getPageNumber()
