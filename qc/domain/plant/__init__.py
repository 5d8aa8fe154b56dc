"""The plant and what follows from it: build, calendar, names, numbers, how a value is judged."""
