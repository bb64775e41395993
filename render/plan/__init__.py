"""Before the sitter comes: powers that meet the wishes, who lights a place, what to check."""
