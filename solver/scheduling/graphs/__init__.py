"""Search over the graph of a shop: critical paths, tabu search, path relinking."""
