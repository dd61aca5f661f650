"""The Ferncombe hire yard, an invented place: its rigs, its light and its camera, built and path-traced in Python."""
