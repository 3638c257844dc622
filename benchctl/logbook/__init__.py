"""The logbook: one line a record, appended and synced, readable by eye in ten years.

`lines` turns records into lines and back (pure), `files` touches the disk, `writer` and `reader` join
the two, `interrupted` closes what a crash left open, `traces` keeps a segment's sensor trace beside
the logbook, and `keeper` stands between the bench loop and a disk that may be slow or full.
"""
