"""The plant's words: frozen records and rules, without a clock, a database or a page."""
