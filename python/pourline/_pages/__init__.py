"""In: results. Out: cards and pages of them as HTML that stands alone."""
