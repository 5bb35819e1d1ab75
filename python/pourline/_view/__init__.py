"""In: a log. Out: its view in a notebook, in which edges can be moved."""
