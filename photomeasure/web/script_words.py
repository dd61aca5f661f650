"""What the page's scripts say, in the language of the request: found in them as the catalogues' tool finds it, given to them by
the page. There is no second catalogue."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

from markupsafe import Markup

from calib.words.language import chosen, decimal_sign, singular_and_plural

STATIC = Path(__file__).parent / "static"
_SAID = re.compile(r'\bsay\(\s*("(?:[^"\\]|\\.)*")')


@cache
def in_scripts() -> tuple[str, ...]:
    """Every sentence of the scripts, in English."""
    texts = (path.read_text(encoding="utf-8") for path in sorted(STATIC.glob("*.js")))
    return tuple(dict.fromkeys(json.loads(found) for text in texts for found in _SAID.findall(text)))


def script_words() -> Markup:
    """For a script element of type application/json: the decimal sign, and sentences by their English text."""
    language = chosen()
    sentences = {}
    if language != "en":
        sentences = {english: singular_and_plural(language, english, None, None) for english in in_scripts()}
    written = json.dumps({"decimal": decimal_sign(language), "sentences": sentences}, ensure_ascii=False)
    return Markup(written.replace("<", "\\u003c"))
