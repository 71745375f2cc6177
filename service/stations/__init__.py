"""Pages: planner, saw, dock."""
