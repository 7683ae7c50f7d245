"""A stay gone by: pure functions from what came in and what was concluded to `records/review`."""
