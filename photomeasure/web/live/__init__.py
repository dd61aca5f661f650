"""A mark that is dragged, and the figure that follows: the pictures are looked at once, then only the solution is done again.

While a finger drags, the browser goes on by itself with a small table about the last solution (`table`); when it lets go, the
figure is the program's own (`figure`), by the same recipe as every other. What is kept as a record is made from the pictures.
"""
