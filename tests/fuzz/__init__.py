"""Bad input at scale: every file and request that the program reads, changed at random."""
