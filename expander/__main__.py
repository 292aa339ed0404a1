"""`python -m expander` is the same as `expander`."""

from expander.cli import main

if __name__ == "__main__":
    main()
