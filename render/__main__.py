"""`python -m render` is `tenthstop`."""

from render.cli import main

if __name__ == "__main__":
    main()
