"""Powers for the wanted readings, in the heads' own steps, and what to do where none will do."""
