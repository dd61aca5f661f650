"""The front door: a dealer asks a customer far away for photographs of one rig, by a link, and finds the answer in a list."""
