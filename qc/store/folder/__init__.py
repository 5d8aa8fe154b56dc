"""What a data folder holds beside the record: photos, the plant's tables, sheets handed in."""
