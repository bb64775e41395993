"""The traced look: what each light does alone, on film, at spots and on receptors."""
