"""Buffers between jobs: which orders of work keep to them, and timetables made to."""
