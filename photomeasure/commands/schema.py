"""`photomeasure schema [NAME]`: a schema as it is shipped, or which there are."""

from __future__ import annotations

from calib.words.said import shown
from photomeasure.schemas import SCHEMAS, schema_text


def run(name: str | None) -> int:
    """Print one schema, or which there are; returns exit code 0. Raises InputError."""
    if name is None:
        for known, what in SCHEMAS.items():
            print(f"photomeasure schema {known:<8} {shown(what)}")
    else:
        print(schema_text(name.lower()), end="")
    return 0
