"""`python -m tests.regenerate_passing`: the converged loads of the ship encounters anew (several minutes).

Two meshes of 480 and 1056 panels a hull, 81 places on the line, carried on to no panel size by the order of
convergence; what remains between the finer mesh and the result is told.
"""

from __future__ import annotations

import json

import numpy as np

from tests.ship_encounters import CASES, CONVERGED, FINER


def main() -> None:
    found = {}
    for case in CASES:
        converged, finer = case.converged(), case.solved(FINER)
        peak = np.abs(converged).max(axis=0)
        left = np.abs(finer - converged).max(axis=0) / peak
        print(f"{case.name}: finer mesh within {100.0 * left.max():.1f} % of the peaks", flush=True)
        found[case.name] = [[float(f"{value:.5g}") for value in row] for row in converged.T]
    CONVERGED.write_text(json.dumps(found, indent=None).replace("]], ", "]],\n ") + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
