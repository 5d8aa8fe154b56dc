"""Many series watched at once, week after week, with their false alarms kept to a stated number."""
