"""JSON Schemas (draft 2020-12) of the files that this program reads and writes, as files: for editors, and for programs of others."""

from __future__ import annotations

from importlib.resources import files

from calib.outcome.errors import InputError
from calib.words.said import said

# name, and what such a file is
SCHEMAS: dict[str, str] = {
    "record": said("a measurement's record, as measure --json and batch write it (JSON)"),
    "level": said("a trailer's level, as level --json writes it (JSON)"),
    "rule": said("a rule of your own, for --rule (TOML)"),
    "set-up": said("a rig for plan (TOML)"),
    "profile": said("a calibrated camera, for --camera (JSON)"),
    "survey": said("what was taped and photographed in a bay, for the command bay (TOML)"),
    "bay": said("a surveyed bay, for --bay (JSON)"),
    "print": said("what the check bars of a print read, as kit remember keeps it (JSON)"),
    "seal": said("a seal over the records of a case (JSON)"),
}


def schema_text(name: str) -> str:
    """A schema as it is shipped. Raises InputError for a name that is none."""
    if name not in SCHEMAS:
        raise InputError(
            said("There is no schema {name}.", name=repr(name)),
            expected=", ".join(SCHEMAS),
            remedy=said("photomeasure schema lists them"),
        )
    return (files(__package__) / f"{name}.json").read_text(encoding="utf-8")
