"""In: a log. Out: the view of it in a notebook, in which edges are moved by hand."""
