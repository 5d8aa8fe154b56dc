"""Two samples against each other, all shares of a list at once, shares as a posterior."""
