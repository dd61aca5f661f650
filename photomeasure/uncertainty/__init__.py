"""Uncertainty by the law of propagation (JCGM 100) and by the propagation of distributions (JCGM 101).

Names are loaded when they are used.
"""

from calib.outcome.late import late

_WHERE = {
    "CurvilinearTrapezoid": "photomeasure.uncertainty.distribution",
    "Distribution": "photomeasure.uncertainty.distribution",
    "FirstOrder": "photomeasure.uncertainty.first_order",
    "FirstOrderCheck": "photomeasure.uncertainty.first_order_stands",
    "InputQuantity": "photomeasure.uncertainty.quantity",
    "InputShare": "photomeasure.uncertainty.first_order",
    "MonteCarloResult": "photomeasure.uncertainty.montecarlo",
    "Normal": "photomeasure.uncertainty.distribution",
    "Rectangular": "photomeasure.uncertainty.distribution",
    "Statement": "photomeasure.uncertainty.first_order_stands",
    "adaptive": "photomeasure.uncertainty.montecarlo",
    "agree": "photomeasure.uncertainty.first_order_stands",
    "coverage_factor": "photomeasure.uncertainty.coverage",
    "numerical_tolerance": "photomeasure.uncertainty.coverage",
    "propagate": "photomeasure.uncertainty.first_order",
    "sensitivities": "photomeasure.uncertainty.first_order",
    "symmetric_interval": "photomeasure.uncertainty.coverage",
    "welch_satterthwaite": "photomeasure.uncertainty.coverage",
}
__all__ = list(_WHERE)


__getattr__ = late(__name__, _WHERE)


def __dir__() -> list[str]:
    return sorted(__all__)
