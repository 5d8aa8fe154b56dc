"""Identities of operations, against the RFC's example and Python's own reading of a UUID."""

import uuid

from qc.domain.facts.uuids import uuid7_of


def test_the_example_of_rfc_9562_appendix_a_6_comes_out():
    # Values from memory of the RFC: time 017F22E279B0, rand_a CC3, rand_b 18C4DC0C0C07398F.
    assert uuid7_of(0x017F22E279B0, bytes.fromhex("0CC318C4DC0C0C07398F")) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


def test_python_reads_version_and_variant_whatever_was_drawn():
    for byte in range(256):
        made = uuid.UUID(uuid7_of(1, bytes([byte]) * 10))

        assert (made.version, made.variant, made.int >> 80) == (7, uuid.RFC_4122, 1)
