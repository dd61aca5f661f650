"""Where the coupling's centre is in a picture: the bare ball, found by itself."""
