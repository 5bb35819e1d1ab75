"""In: results. Out: their plain text, not escaped; the page that shows it escapes it."""
