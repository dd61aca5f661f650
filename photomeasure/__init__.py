"""Height of a tow coupling from photographs, with an honest uncertainty."""

__version__ = "0.1.0"
