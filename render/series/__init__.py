"""A set-up made several times with one or two things changed, side by side."""
