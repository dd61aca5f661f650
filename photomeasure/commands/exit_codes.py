"""What the program ends with, the same for every command."""

from __future__ import annotations

EXIT_DONE = 0  # also where the verdict is bad news, or a tape contradicts: it was measured
EXIT_USAGE = 2  # wrong input, told with what was expected and what to do
EXIT_REFUSED = 3  # something could not be measured, or is not as it was
EXIT_INTERRUPTED = 130
