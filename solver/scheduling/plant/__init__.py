"""A plant's plan as jobs for machines, and its timetable in the plant's words."""
