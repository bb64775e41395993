"""The bust's shape: base mesh, subdivision, regions, landmarks, pose."""
