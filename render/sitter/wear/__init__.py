"""What the sitter wears."""
