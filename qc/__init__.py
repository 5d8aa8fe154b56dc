"""The plant's quality record: capture, sync, release and the statistics behind them."""
