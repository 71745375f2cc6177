"""Search over permutations of jobs: one machine, lines of machines, stages of parallel machines."""
