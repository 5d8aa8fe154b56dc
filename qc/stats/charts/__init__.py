"""Control charts: each period judged against limits from a frozen baseline, and the rules over their points."""
