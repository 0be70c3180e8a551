"""The operator's sheet: a page that hangs beside the heat press, of one gang sheet, as HTML and as PDF."""
