"""Lists that are handed in, and acts on a range: what each row would do, before anything is done."""
