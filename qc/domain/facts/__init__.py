"""What happened and who says so: operations, their proof, people and roles, the rule set, a refusal."""
