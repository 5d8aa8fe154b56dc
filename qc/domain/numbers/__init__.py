"""The form of a plant's numbers: parts, letters and check."""
