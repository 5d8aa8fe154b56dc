"""The bytes kept and what each row of the journal carries: chain, columns, keys, certificates, proofs."""
