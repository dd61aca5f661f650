"""What the page asks of a rig beside its height: how level the trailer stands, and the height once it is coupled."""
