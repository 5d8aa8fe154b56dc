"""Charts of sums and averages, the demerit chart, and how many units a chart needs."""
