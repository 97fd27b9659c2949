"""Programs as text: the writer, and the interpreter that reads any program back."""
