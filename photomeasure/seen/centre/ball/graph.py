"""Convolutional networks run by OpenCV, a third of the time that numpy takes: their layers told as an ONNX model in memory.

Only what these networks need of ONNX (onnx.proto3, operators of opset 13; field numbers from memory, proved by OpenCV's reading
them and by the answers of `nets.likeness` and `convolution`, which stay as the readable reference). Weights stand in one place,
`nets.npz`; nothing else is written or read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.seen.centre.ball.convolution import Float32

_FLOAT, _INT64, _INTS, _IR_VERSION, _OPSET = 1, 7, 7, 8, 13


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One convolution (weights and offset as in `convolution.convolved`) and what follows it.

    rectified: what is below nought is nought; then added: to what went in; then pooled: the highest of two by two. trimmed: rows
    that are left off at the top and at the bottom, no more than the taps reach.
    """

    layer: tuple[Float32, Float32]
    stride: int = 1
    apart: int = 1
    rectified: bool = True
    added: bool = False
    pooled: bool = False
    trimmed: int = 0


class Graph:
    """A network of steps. Not to be shared by threads: OpenCV keeps the picture in it while it answers."""

    def __init__(self, steps: Sequence[Step]) -> None:
        first, *others = steps
        self._folds = first.stride == 2
        if self._folds:
            first = replace(first, layer=(_folded_kernel(first.layer[0]), first.layer[1]), stride=1)
        model = np.frombuffer(_model([first, *others]), dtype=np.uint8)
        self._net = cv2.dnn.readNetFromONNX(model)

    def __call__(self, pictures: Float32) -> Float32:
        """Pictures (N, H, W, C) to (N, H', W', D)."""
        given = _folded(pictures) if self._folds else pictures.transpose(0, 3, 1, 2)
        self._net.setInput(np.ascontiguousarray(given))
        return np.asarray(self._net.forward(), dtype=np.float32).transpose(0, 2, 3, 1)


def _folded(pictures: Float32) -> Float32:
    """(N, H, W, C) as (N, 4 C, H', W'): two by two neighbours are channels of one pixel, H' the rounded-up H / 2.

    OpenCV takes eight channels at a time: the two of a picture cost as much as eight, in a third of the taps then.
    """
    number, tall, wide, channels = pictures.shape
    rows, columns = -(-tall // 2), -(-wide // 2)
    planes = pictures.transpose(0, 3, 1, 2)
    if (tall, wide) != (2 * rows, 2 * columns):
        planes = np.pad(planes, ((0, 0), (0, 0), (0, 2 * rows - tall), (0, 2 * columns - wide)))
    apart = planes.reshape(number, channels, rows, 2, columns, 2)
    return apart.transpose(0, 3, 5, 1, 2, 4).reshape(number, 4 * channels, rows, columns)


def _folded_kernel(kernel: Float32) -> Float32:
    """Weights of a stride of two (rows, columns, C, D) as those of a stride of one over a folded picture."""
    tall, wide, channels, out = kernel.shape
    # tap a looks at pixel 2 i + a - tall // 2, which is row i + (a - tall // 2) // 2 of the folded picture
    above, left = -((-(tall // 2)) // 2), -((-(wide // 2)) // 2)
    folded = np.zeros((2 * above + 1, 2 * left + 1, 2, 2, channels, out), dtype=np.float32)
    for a in range(tall):
        down, lower = divmod(a - tall // 2, 2)
        for b in range(wide):
            right, further = divmod(b - wide // 2, 2)
            folded[above + down, left + right, lower, further] = kernel[a, b]
    return folded.reshape(2 * above + 1, 2 * left + 1, 4 * channels, out)


def _model(steps: Sequence[Step]) -> bytes:
    nodes, weights, at = b"", b"", "in"
    for number, step in enumerate(steps):
        given, (kernel, offset) = at, step.layer
        weights += _tensor(f"w{number}", kernel.transpose(3, 2, 0, 1)) + _tensor(f"b{number}", offset)
        reach = [size // 2 * step.apart for size in kernel.shape[:2]]
        shape = {
            "kernel_shape": kernel.shape[:2],
            "pads": [reach[0] - step.trimmed, reach[1]] * 2,
            "strides": [step.stride] * 2,
            "dilations": [step.apart] * 2,
        }
        nodes += _node("Conv", [at, f"w{number}", f"b{number}"], at := f"conv{number}", shape)
        if step.rectified:
            nodes += _node("Relu", [at], at := f"relu{number}")
        if step.added and step.trimmed:
            weights += b"".join(
                _tensor(f"{name}{number}", np.array([at_row]))
                for name, at_row in (("first", step.trimmed), ("end", -step.trimmed), ("down", 2))
            )
            nodes += _node(
                "Slice", [given, f"first{number}", f"end{number}", f"down{number}"], given := f"rows{number}"
            )
        if step.added:
            nodes += _node("Add", [given, at], at := f"sum{number}")
        if step.pooled:
            nodes += _node("MaxPool", [at], at := f"pool{number}", {"kernel_shape": [2, 2], "strides": [2, 2]})
    ends = _value(11, "in", steps[0].layer[0].shape[2]) + _value(12, at, steps[-1].layer[0].shape[3])
    graph = nodes + _field(2, "ball") + weights + ends
    return _field(1, _IR_VERSION) + _field(7, graph) + _field(8, _field(1, "") + _field(2, _OPSET))


def _node(
    operator: str, inputs: Sequence[str], output: str, attributes: dict[str, Sequence[int]] | None = None
) -> bytes:
    names = b"".join(_field(1, name) for name in inputs) + _field(2, output) + _field(3, output) + _field(4, operator)
    for name, values in (attributes or {}).items():
        names += _field(5, _field(1, name) + b"".join(_field(8, int(v)) for v in values) + _field(20, _INTS))
    return _field(1, names)


def _tensor(name: str, values: Float32 | NDArray[np.int64]) -> bytes:
    shape = b"".join(_field(1, size) for size in values.shape)
    kind, stored = (_FLOAT, "<f4") if values.dtype == np.float32 else (_INT64, "<i8")
    content = np.ascontiguousarray(values, dtype=stored).tobytes()
    return _field(5, shape + _field(2, kind) + _field(8, name) + _field(9, content))


def _value(number: int, name: str, channels: int) -> bytes:
    """The graph's input or output: any number of pictures of any size."""
    sizes = [_field(2, "n"), _field(1, channels), _field(2, "h"), _field(2, "w")]
    shape = _field(2, b"".join(_field(1, size) for size in sizes))
    return _field(number, _field(1, name) + _field(2, _field(1, _field(1, _FLOAT) + shape)))


def _field(number: int, value: int | str | bytes) -> bytes:
    """A field of a protocol buffer: a whole number, or bytes with their length before them."""
    if isinstance(value, int):
        return _whole(number << 3) + _whole(value)
    content = value.encode() if isinstance(value, str) else value
    return _whole(number << 3 | 2) + _whole(len(content)) + content


def _whole(value: int) -> bytes:
    """Seven bits in each byte, the lowest first; the eighth says that more follow."""
    low, rest = value & 0x7F, value >> 7
    return bytes([low | 0x80]) + _whole(rest) if rest else bytes([low])
