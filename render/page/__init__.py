"""The page: a lamp is moved in the browser, and look and readings follow."""
