"""The benchmark: `python -m tests.bench`. Times only against something timed in the same run; see the modules."""

import monitor  # noqa: F401 - before numpy is loaded: one thread for its matrices
