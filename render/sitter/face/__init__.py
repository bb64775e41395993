"""What makes a face look back: eyes, gaze, expression."""
