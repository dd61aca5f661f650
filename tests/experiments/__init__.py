"""Experiments that are run by hand; each writes its result beside itself."""
