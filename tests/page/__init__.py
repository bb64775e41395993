"""The page in a browser; a package, so that its server and browser end with its last test."""
