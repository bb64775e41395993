"""Hair of head, brows, lashes and beard, strand by strand."""
