"""Least squares: what the fits of cameras and of surveys have in common."""
