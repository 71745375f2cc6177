"""Use-cases called by the web: fast, no solver library."""
