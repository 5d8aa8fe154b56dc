"""One module for each question that the plant asks."""
