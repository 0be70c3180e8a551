"""The report of a fitted ink model: its figures as SVG, its sentences, and the page of HTML that holds them."""
