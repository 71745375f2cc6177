"""Judges a finished plan as a whole, by code apart: from the orders, the catalog and the plan alone.

Nothing here imports a stage's check or search, nor `solver.plan_check`: what those and the search might have wrong together
is seen here. Faults are sentences.
"""
