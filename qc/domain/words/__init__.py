"""What is said, in the language of who reads it; it knows nothing of a plant."""
