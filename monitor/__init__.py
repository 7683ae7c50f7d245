"""bightwatch: watches the moorings of a ship in port. It advises; it never certifies."""

import os

# Our matrices are small: a second thread only burns the PC's other core. To be set before numpy is first loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
