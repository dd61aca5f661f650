"""Uncertainty by the law of propagation (JCGM 100) and by the propagation of distributions (JCGM 101)."""

from photomeasure.uncertainty.coverage import (
    coverage_factor,
    numerical_tolerance,
    shortest_interval,
    symmetric_interval,
    welch_satterthwaite,
)
from photomeasure.uncertainty.distribution import (
    Arcsine,
    CurvilinearTrapezoid,
    Distribution,
    Normal,
    Rectangular,
    StudentT,
    Triangular,
    rectangular_between,
)
from photomeasure.uncertainty.first_order import (
    FirstOrder,
    InputShare,
    propagate,
    propagate_covariance,
    sensitivities,
)
from photomeasure.uncertainty.first_order_stands import FirstOrderCheck, Statement, agree
from photomeasure.uncertainty.montecarlo import MonteCarlo, adaptive, draw_inputs, summarise
from photomeasure.uncertainty.quantity import InputQuantity

__all__ = [
    "Arcsine",
    "CurvilinearTrapezoid",
    "Distribution",
    "FirstOrder",
    "FirstOrderCheck",
    "InputQuantity",
    "InputShare",
    "MonteCarlo",
    "Normal",
    "Rectangular",
    "Statement",
    "StudentT",
    "Triangular",
    "adaptive",
    "agree",
    "coverage_factor",
    "draw_inputs",
    "numerical_tolerance",
    "propagate",
    "propagate_covariance",
    "rectangular_between",
    "sensitivities",
    "shortest_interval",
    "summarise",
    "symmetric_interval",
    "welch_satterthwaite",
]
