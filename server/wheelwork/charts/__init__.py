"""Picture geometry: where marks, windows and lines stand on the page. Pure sums; templates draw what they give."""
