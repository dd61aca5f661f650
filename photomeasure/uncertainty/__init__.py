"""Uncertainty by the law of propagation (JCGM 100) and by the propagation of distributions (JCGM 101)."""
