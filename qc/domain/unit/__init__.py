"""A unit's record and what is asked of it: whose a defect is, retests, the gate, its story."""
