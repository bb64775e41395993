"""The page: a lamp is moved in the browser, and look and readings follow."""

from render.page.guard import Door
from render.page.serve import Opened, is_here, open_page

__all__ = ["Door", "Opened", "is_here", "open_page"]
