"""What a later photograph takes over from a record: the centre in the frame of a bar tag."""

from __future__ import annotations

from pathlib import Path

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.carried import Carried
from photomeasure.record.schema import read_record


def carried_from(path: Path, *, sheet_untouched: bool | None = None) -> Carried:
    """The centre by the bar tag of a record. Raises InputError where it is no record or has no bar tag."""
    record = read_record(path)
    if record.bar is None:
        why = said("it is a refusal") if record.height_mm is None else said("no bar tag was found in its photographs")
        raise InputError(
            said("{path} cannot tell where the centre is from a bar tag: {why}.", path=path, why=why),
            expected=said(
                "the record of a photograph of the bare ball with a bar tag of the kit on the tow bar in sight"
            ),
            remedy=said(
                "stick a bar tag on the part that carries the ball, measure the bare ball, and name that record"
            ),
        )
    return Carried(**record.bar.model_dump(), record=path.name, sheet_untouched=sheet_untouched)
