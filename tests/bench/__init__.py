"""Benchmarks: measured against the limits we hold ourselves to, written with the machine that measured them."""
