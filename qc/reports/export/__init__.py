"""The record's figures as files for a plant's own reports."""
