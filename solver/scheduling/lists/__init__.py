"""Search over lists of operations: rules, annealing, the busiest machine first, and a bound."""
