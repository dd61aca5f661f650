"""How sure a fit to pixels is whose errors are alike among neighbours.

Interpolated colours, JPEG, sharpening and what a model does not know make the residuals of neighbouring pixels alike;
the plain covariance of least squares then claims too much. With weights W and residual covariance C the parameters of
a linear fit have the covariance N^-1 (J' W C W J) N^-1, N = J' W J (the law of propagation of uncertainty, JCGM 100
5.2, applied to the normal equations). C is estimated from the residuals themselves, by the offset of two pixels.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

LAGS = 3  # pixels over which residuals may be alike
_ROUNDING = 1.0 / 12.0  # variance of rounding to whole grey levels


def covariance(
    slope: NDArray[np.float64],
    weights: NDArray[np.float64],
    residual: NDArray[np.float64],
    strength: NDArray[np.float64],
    kept: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """(P, P) of the parameters of a fit.

    slope (N, P), weights (N,), residual (N,) of the pixels that are True in kept (rows, columns), in reading order.
    strength: (N,) how much each pixel tells; the residuals count by it, as edges carry more error than flat parts.
    """
    parameters = slope.shape[1]
    root = np.sqrt(weights)
    pulled, present = np.zeros(kept.shape), np.zeros(kept.shape)
    pulled[kept], present[kept] = strength * root * residual, strength
    alike = _tapered(_lagged(pulled) / np.maximum(_lagged(present), 1e-12))
    # parameters fitted to so many independent residuals: those at the edges, fewer where neighbours are alike
    independent = strength.sum() ** 2 / max(float(strength @ strength), 1e-12)
    independent *= alike[LAGS, LAGS] / max(float(alike.sum()), float(alike[LAGS, LAGS]), 1e-12)
    alike *= independent / max(independent - parameters, 0.5 * independent, 1e-12)
    alike[LAGS, LAGS] = max(alike[LAGS, LAGS], _ROUNDING)
    smeared = np.empty_like(slope)
    plane = np.zeros(kept.shape)
    for i in range(parameters):
        plane[kept] = slope[:, i] * root
        smeared[:, i] = cv2.filter2D(plane, -1, alike, borderType=cv2.BORDER_CONSTANT)[kept]
    inverse = np.linalg.pinv(slope.T @ (weights[:, None] * slope), hermitian=True)
    middle = (slope * root[:, None]).T @ smeared
    values, vectors = np.linalg.eigh((middle + middle.T) / 2)
    half = inverse @ vectors * np.sqrt(np.maximum(values, 0.0))  # a faded estimate may be a trifle below zero
    result: NDArray[np.float64] = half @ half.T
    return result


def _lagged(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2 L + 1, 2 L + 1) sums of products of a grid with itself shifted by up to L rows and columns."""
    size, (rows, columns) = 2 * LAGS + 1, values.shape
    padded = np.pad(values, LAGS)
    sums = np.empty((size, size))
    for i in range(LAGS + 1):
        for j in range(size):
            sums[i, j] = np.vdot(padded[i : i + rows, j : j + columns], values)
            sums[size - 1 - i, size - 1 - j] = sums[i, j]
    return sums


def _tapered(lagged: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fade with distance (parabolic): what is estimated at large offsets is mostly chance."""
    fade = 1.0 - (np.arange(-LAGS, LAGS + 1) / (LAGS + 1)) ** 2
    faded: NDArray[np.float64] = lagged * np.outer(fade, fade)
    return faded
