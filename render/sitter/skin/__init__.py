"""What skin looks like: colour, gloss and relief as maps."""
