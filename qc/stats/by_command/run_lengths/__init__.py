"""How long until a chart signals: by a chain where there is one, else simulated with its error."""
