"""`python -m toolpath` is `keepclear`."""

from toolpath.cli.start import entry

if __name__ == "__main__":
    entry()
