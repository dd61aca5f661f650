"""Ratios of times, looked at by hand; run once as tests otherwise."""
