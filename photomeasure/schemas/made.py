"""The schemas as the code has them: `python -m photomeasure.schemas.made` writes the shipped files anew."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from calib.profile.profile import Profile
from photomeasure.asked.bay_file import Bay
from photomeasure.asked.prints import PrintFile
from photomeasure.bay.survey_file import SurveyFile
from photomeasure.record.level import LevelRecord
from photomeasure.record.schema import Record
from photomeasure.rig.setup import Setup
from photomeasure.rules.model import Rule
from photomeasure.schemas import SCHEMAS
from photomeasure.seal.schema import Seal

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
MODELS: Mapping[str, type[BaseModel]] = {
    "record": Record,
    "level": LevelRecord,
    "rule": Rule,
    "set-up": Setup,
    "profile": Profile,
    "survey": SurveyFile,
    "bay": Bay,
    "print": PrintFile,
    "seal": Seal,
}


def schema_of(name: str) -> dict[str, Any]:
    """The JSON Schema of what the code reads under that name."""
    made = MODELS[name].model_json_schema(by_alias=True)
    return {
        "$schema": _DRAFT,
        "title": f"photomeasure: {SCHEMAS[name]}",
        **{k: v for k, v in made.items() if k != "title"},
    }


def schema_file(name: str) -> str:
    """The same as the text of its file."""
    return json.dumps(schema_of(name), indent=1, ensure_ascii=False) + "\n"


def write(folder: Path) -> None:
    """All of them into a folder, one file each."""
    for name in MODELS:
        (folder / f"{name}.json").write_text(schema_file(name), encoding="utf-8")


if __name__ == "__main__":
    write(Path(__file__).parent)
