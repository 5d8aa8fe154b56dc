"""What moved beyond chance, and what is called usual."""
