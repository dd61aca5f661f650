"""Everything that a measurement uses, loaded: for the process from which workers are forked, so that it is paid for once.

Importing this module is what it is for. What a first measurement would load or make is loaded and made here; no thread is started.
"""

from __future__ import annotations

import gc
from importlib import import_module

from PIL import Image
from pydantic import BaseModel

import photomeasure.record.schema as schema
from photomeasure.batch.work import work
from photomeasure.seen.centre.ball.nets import nets

__all__ = ["work"]

# what is loaded when a photograph is read and its ball is looked for, and not before
_LATER = (
    "calib.profile.load", "calib.profile.match", "numpy.ma", "numpy.polynomial", "numpy.random", "photomeasure.seen.centre.ball.ball",
    "photomeasure.seen.centre.ball.mirrored", "photomeasure.seen.centre.ball.together", "platformdirs", "PIL.ImageOps",
    "PIL.TiffImagePlugin", "_strptime",
)  # fmt: skip

for _name in _LATER:
    import_module(_name)
for _part in vars(schema).values():
    if isinstance(_part, type) and issubclass(_part, BaseModel) and _part is not BaseModel:
        _part.model_rebuild()  # readers and writers of records; later ones are made of these
Image.preinit()
nets()
gc.collect()
gc.freeze()  # forked processes share what they do not touch
