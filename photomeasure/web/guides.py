"""The guides as pages: the program's own Markdown as HTML, nothing else is ever rendered by it."""

from __future__ import annotations

import re

from markdown_it import MarkdownIt
from markupsafe import Markup

from photomeasure.guides.texts import guide_text

_LINK = re.compile(r'href="([a-z-]+)\.md"')


def guide_html(name: str) -> Markup:
    """A guide's body. Raises InputError for one that there is not."""
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    html = _LINK.sub(r'href="\1"', reader.render(guide_text(name)))
    # a wide table or a long command scrolls by itself, not the page
    html = html.replace("<table>", '<div class="wide" tabindex="0" role="group" aria-label="table"><table>')
    html = html.replace("</table>", "</table></div>").replace("<pre>", '<pre tabindex="0">')
    return Markup(html)  # from this package's own files
