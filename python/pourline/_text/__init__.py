"""In: results. Out: what there is to say of them as plain text; whoever puts it on a page escapes it."""
