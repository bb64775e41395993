"""What to do before the sitter comes: what to change, what to check, what to carry to the floor."""
