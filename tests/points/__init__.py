"""Simulated observations (points, not pictures) with exact truth, drawn from stated distributions."""
