"""The people and phones of the plant: their secrets, their sign-ins, and what the journal tells of them."""
