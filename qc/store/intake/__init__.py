"""How an operation comes in: door, settling by the rules, the one writer, quarantine, deriving anew."""
