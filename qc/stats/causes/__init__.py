"""Which few causes make most of the weight."""
