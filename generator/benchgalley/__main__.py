"""`python -m benchgalley`."""

from benchgalley.commands import main

if __name__ == "__main__":
    main()
