"""One function per command: data in, result out."""
