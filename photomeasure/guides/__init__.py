"""The guides: Markdown files that the page shows and `photomeasure guide NAME` prints."""
