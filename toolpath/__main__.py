"""`python -m toolpath` is `keepclear`."""

from toolpath.cli.main import entry

if __name__ == "__main__":
    entry()
