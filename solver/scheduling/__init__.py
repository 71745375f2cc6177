"""Scheduling: which machine does what when."""
