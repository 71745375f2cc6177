"""Replanning: what a released timetable still allows, and how to go on after what happened."""
