"""The cuts, one module per family; each grows strands (n, k, 3) [dm] from a scalp."""
