"""Use-cases called by the worker: slow."""
