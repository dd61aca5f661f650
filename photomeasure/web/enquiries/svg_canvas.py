"""The printed instructions' drawings on a screen: what the kit's pen asks of a page of PDF, answered as SVG.

Only what that pen uses. Points of the page, y upwards, become user units, y downwards.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from html import escape
from typing import Any

_FAMILY = "system-ui,-apple-system,Segoe UI,Roboto,Liberation Sans,Arial,sans-serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    stroke: str = "#000"
    fill: str = "#000"
    width: float = 1.0
    cap: str = "butt"
    dash: str = ""
    size: float = 10.0
    bold: bool = False
    move: tuple[float, float] = (0.0, 0.0)
    turned: float = 0.0
    clips: int = 0


@dataclass(slots=True)
class _Path:
    """A path in the page's points, as reportlab's has it."""

    height: float
    steps: list[str] = field(default_factory=list)

    def moveTo(self, x: float, y: float) -> None:  # noqa: N802 - reportlab's names
        self.steps.append(f"M{x:.2f} {self.height - y:.2f}")

    def lineTo(self, x: float, y: float) -> None:  # noqa: N802
        self.steps.append(f"L{x:.2f} {self.height - y:.2f}")

    def curveTo(self, *xy: float) -> None:  # noqa: N802
        points = " ".join(f"{x:.2f} {self.height - y:.2f}" for x, y in zip(xy[::2], xy[1::2], strict=True))
        self.steps.append(f"C{points}")

    def close(self) -> None:
        self.steps.append("Z")

    def roundRect(self, x: float, y: float, width: float, height: float, radius: float) -> None:  # noqa: N802
        top, r = self.height - y - height, min(radius, width / 2, height / 2)
        self.steps.append(
            f"M{x + r:.2f} {top:.2f}h{width - 2 * r:.2f}a{r:.2f} {r:.2f} 0 0 1 {r:.2f} {r:.2f}v{height - 2 * r:.2f}"
            f"a{r:.2f} {r:.2f} 0 0 1 {-r:.2f} {r:.2f}h{2 * r - width:.2f}a{r:.2f} {r:.2f} 0 0 1 {-r:.2f} {-r:.2f}"
            f"v{2 * r - height:.2f}a{r:.2f} {r:.2f} 0 0 1 {r:.2f} {-r:.2f}Z"
        )


class SvgCanvas:
    """width, height: of the drawing in points."""

    def __init__(self, width: float, height: float) -> None:
        self._width, self._height = width, height
        self._state = _State()
        self._states: list[_State] = []
        self._pieces: list[str] = []
        self._clips = 0

    def svg(self) -> str:
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self._width:.1f} {self._height:.1f}">'
            f"{''.join(self._pieces)}</svg>"
        )

    # -- what is set ---------------------------------------------------------------------------------------------------

    def _set(self, **changed: Any) -> None:
        self._state = replace(self._state, **changed)

    def setLineCap(self, kind: int) -> None:  # noqa: N802
        self._set(cap=("butt", "round", "square")[kind])

    def setLineJoin(self, kind: int) -> None:  # noqa: N802
        """Round, as the pen has it everywhere."""

    def setLineWidth(self, width: float) -> None:  # noqa: N802
        self._set(width=width)

    def setDash(self, lengths: list[float]) -> None:  # noqa: N802
        self._set(dash=" ".join(f"{length:.2f}" for length in lengths))

    def setStrokeColorRGB(self, *rgb: float) -> None:  # noqa: N802
        self._set(stroke=_hex(rgb))

    def setFillColorRGB(self, *rgb: float) -> None:  # noqa: N802
        self._set(fill=_hex(rgb))

    def setFont(self, name: str, size: float) -> None:  # noqa: N802
        self._set(bold="Bold" in name, size=size)

    def saveState(self) -> None:  # noqa: N802
        self._states.append(self._state)
        self._state = replace(self._state, clips=0)

    def restoreState(self) -> None:  # noqa: N802
        self._pieces.append("</g>" * self._state.clips)
        self._state = self._states.pop()

    def translate(self, x: float, y: float) -> None:
        self._set(move=(x, y))

    def rotate(self, degrees: float) -> None:
        self._set(turned=degrees)

    # -- what is drawn -------------------------------------------------------------------------------------------------

    def beginPath(self) -> _Path:  # noqa: N802
        return _Path(self._height)

    def drawPath(self, path: _Path, stroke: int = 1, fill: int = 0) -> None:  # noqa: N802
        self._pieces.append(f'<path d="{"".join(path.steps)}" fill-rule="evenodd"{self._looks(stroke, fill)}/>')

    def roundRect(self, x: float, y: float, width: float, height: float, radius: float, stroke: int, fill: int) -> None:  # noqa: N802
        path = self.beginPath()
        path.roundRect(x, y, width, height, radius)
        self.drawPath(path, stroke, fill)

    def circle(self, x: float, y: float, radius: float, stroke: int, fill: int) -> None:
        at = f'cx="{x:.2f}" cy="{self._height - y:.2f}" r="{radius:.2f}"'
        self._pieces.append(f"<circle {at}{self._looks(stroke, fill)}/>")

    def clipPath(self, path: _Path, stroke: int = 0, fill: int = 0) -> None:  # noqa: N802
        self._clips += 1
        self._set(clips=self._state.clips + 1)
        self._pieces.append(
            f'<clipPath id="c{self._clips}"><path d="{"".join(path.steps)}"/></clipPath><g clip-path="url(#c{self._clips})">'
        )

    def drawString(self, x: float, y: float, words: str) -> None:  # noqa: N802
        (left, up), turned = self._state.move, self._state.turned
        weight = ' font-weight="700"' if self._state.bold else ""
        self._pieces.append(
            f'<text transform="translate({left:.2f} {self._height - up:.2f}) rotate({-turned:g})" x="{x:.2f}" y="{-y:.2f}" '
            f'font-family="{_FAMILY}" font-size="{self._state.size:.2f}"{weight} fill="{self._state.fill}">{escape(words)}</text>'
        )

    def _looks(self, stroke: int, fill: int) -> str:
        looks = f' fill="{self._state.fill if fill else "none"}"'
        if stroke:
            looks += f' stroke="{self._state.stroke}" stroke-width="{self._state.width:.2f}" stroke-linejoin="round"'
            looks += f' stroke-linecap="{self._state.cap}"'
            looks += f' stroke-dasharray="{self._state.dash}"' if self._state.dash else ""
        return looks


def _hex(rgb: tuple[float, ...]) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in rgb)
