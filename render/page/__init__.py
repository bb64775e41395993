"""The page: a lamp is moved in the browser, and look and readings follow."""

from render.page.guard import Door
from render.page.serve import HERE, Opened, open_page

__all__ = ["HERE", "Door", "Opened", "open_page"]
