"""Published accidents as cases: what is known of each as facts, what is not as ranges, played through the watch.

`python -m tests.cases` plays every case file of this folder, or those named, and writes the table. A new accident
is a new file: see `example.toml`. Facts that it does not tell are taken from `usual.toml`, so that a few lines
make a case. The rule of agreement stands in `table`.
"""
