"""What each command does once its arguments are parsed; heavy imports stay inside the functions."""
