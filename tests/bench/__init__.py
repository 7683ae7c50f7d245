"""The benchmark: `python -m tests.bench`. Times only against something timed in the same run; see the modules."""
