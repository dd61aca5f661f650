"""What holds for every test: one thread of linear algebra a process.

The matrices here are small. Threads of OpenBLAS wait for each other by spinning, which costs two to three times the
processor's time of the whole run where every core has a process of its own already (`pytest -n auto`). Records are the same to
their last digit. Set before numpy is loaded; what is set outside stands above it.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ.setdefault(_name, "1")
