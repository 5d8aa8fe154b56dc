"""One sample: limits for a share, a rate and a count, from the law of the count itself."""
