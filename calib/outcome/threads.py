"""The environment's names for how many threads linear algebra takes; NumPy's libraries read them once, when they are loaded."""

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
