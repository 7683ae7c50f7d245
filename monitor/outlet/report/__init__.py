"""The report of a stay: a page to read and print, plots beside it, and tables for other programs."""
