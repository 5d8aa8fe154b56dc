"""What every picture is made of: frames, marks, SVG, tables, words."""
