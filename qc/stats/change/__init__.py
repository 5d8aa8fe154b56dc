"""Two periods or many: whether something changed, by how much and when, freed from a change of model mix."""
