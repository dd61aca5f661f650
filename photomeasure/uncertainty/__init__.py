"""Uncertainty by the law of propagation (JCGM 100) and by the propagation of distributions (JCGM 101)."""

from photomeasure.uncertainty.coverage import (
    coverage_factor,
    numerical_tolerance,
    symmetric_interval,
    welch_satterthwaite,
)
from photomeasure.uncertainty.distribution import (
    CurvilinearTrapezoid,
    Distribution,
    Normal,
    Rectangular,
)
from photomeasure.uncertainty.first_order import (
    FirstOrder,
    InputShare,
    propagate,
    sensitivities,
)
from photomeasure.uncertainty.first_order_stands import FirstOrderCheck, Statement, agree
from photomeasure.uncertainty.montecarlo import MonteCarloResult, adaptive
from photomeasure.uncertainty.quantity import InputQuantity

__all__ = [
    "CurvilinearTrapezoid",
    "Distribution",
    "FirstOrder",
    "FirstOrderCheck",
    "InputQuantity",
    "InputShare",
    "MonteCarloResult",
    "Normal",
    "Rectangular",
    "Statement",
    "adaptive",
    "agree",
    "coverage_factor",
    "numerical_tolerance",
    "propagate",
    "sensitivities",
    "symmetric_interval",
    "welch_satterthwaite",
]
