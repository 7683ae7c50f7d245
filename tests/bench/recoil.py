"""`python -m tests.bench.recoil`: breaks of all lines of a ship, against plain numpy work in the same run.

Sixteen lines, 100 breaks each, both parts, as `snapback.flights` works them out when nothing is kept yet. Seconds
mean little on a busy machine, so the same process also times the least that such a march can cost: as many square
roots of an array that fits the processor's cache as there are springs × steps. Ends with exit code 1 above
MOST_RATIO or above MOST_S of CPU time.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from time import process_time
from typing import Final

import numpy as np

from monitor.physics.snapback import Led, flights, usual_rope

LINES: Final = 16
BREAKS: Final = 100
MOST_S: Final = 10.0
MOST_RATIO: Final = 120.0
_SPRING_STEPS: Final = LINES * 2 * BREAKS * 24 * 1800  # springs of a part × steps of a usual flight


def leads() -> list[Led]:
    """Half of them rope, half wire-strong with a tail; two bends on deck each, either hand; a house and a dozen
    fittings on the deck: as many posts as stand in the way on a ship's."""
    rope = usual_rope("polyester", 698e3, 0.064)
    light, tail = usual_rope("HMPE", 1340e3, 0.044), usual_rope("polyester", 1675e3)
    made = []
    for number in range(LINES):
        hand, far_m = (-1.0) ** number, 35.0 + 2.0 * number
        points = ((0.0, 0.0), (6.0, 0.0), (8.0 + 0.2 * number, 6.0 * hand), (far_m, 20.0 * hand))
        house = [(-6.0 + 0.7 * (n % 10), (4.0 + 0.5 * (n // 10)) * hand, 0.5) for n in range(30)]
        fittings = [(3.0 * n - 9.0, -5.0 * hand, 0.3) for n in range(12)]
        in_way = (*house, *fittings)
        led = Led(points, (1.2, 1.0, 1.0, -3.0), (0.4, 0.25, 0.15, 0.25), 2, rope, in_way=in_way)
        made.append(led if number % 2 else replace(led, rope=light, tail=tail, tail_m=11.0))
    return made


def main() -> int:
    """Run, tell, judge."""
    flights.cache_clear()
    begun_s = process_time()
    for led in leads():
        flights(led, 10, BREAKS)
    spent_s = process_time() - begun_s
    numbers = np.random.default_rng(0).uniform(1.0, 2.0, 4096)
    begun_s = process_time()
    for _ in range(2000):
        np.sqrt(numbers, out=numbers)
    root_s = (process_time() - begun_s) / (2000 * numbers.size)
    ratio = spent_s / (root_s * _SPRING_STEPS)
    print(f"{LINES} lines × {BREAKS} breaks × 2 parts: {spent_s:.1f} s of CPU")
    print(f"{ratio:.0f} × as many bare square roots; at most {MOST_RATIO:.0f} and {MOST_S:.0f} s")
    return 1 if spent_s > MOST_S or ratio > MOST_RATIO else 0


if __name__ == "__main__":
    sys.exit(main())
