"""In: results. Out: figures of them, by matplotlib or as SVG."""
