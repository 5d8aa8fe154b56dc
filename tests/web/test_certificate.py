"""The plant's own certificate: what RFC 5280 asks of it, judged by cryptography's verifier and by Python's TLS."""

import ssl
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from qc.web import certificate

NAME = "record.plant.example"
NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)


@pytest.fixture
def files(tmp_path):
    return certificate.make(tmp_path / "tls", (NAME, "record"), NOW)


def loaded(path):
    return x509.load_pem_x509_certificates(path.read_bytes())


def verified(files, name, at=NOW, leaf=None):
    (root,) = loaded(files.root)
    verifier = PolicyBuilder().store(Store([root])).time(at).build_server_verifier(x509.DNSName(name))
    return verifier.verify(leaf or loaded(files.leaf)[0], [])


def test_it_is_good_for_its_names(files):
    assert len(verified(files, NAME)) == 2
    with pytest.raises(VerificationError):
        verified(files, "elsewhere.example")


def test_it_lasts_825_days_and_begins_an_hour_early(files):
    leaf = loaded(files.leaf)[0]
    lasts = leaf.not_valid_after_utc - leaf.not_valid_before_utc + timedelta(seconds=1)

    assert lasts <= timedelta(days=825)
    assert leaf.not_valid_before_utc == NOW - timedelta(hours=1)
    assert certificate.days_left(files.leaf, NOW) == 824
    with pytest.raises(VerificationError):
        verified(files, NAME, NOW + timedelta(days=826))


def test_it_is_for_servers_alone(files):
    leaf, root = loaded(files.leaf)

    assert list(leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value) == [
        ExtendedKeyUsageOID.SERVER_AUTH
    ]
    assert leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca is False
    assert root == loaded(files.root)[0]


def test_the_root_may_vouch_for_these_names_only(files):
    """RFC 5280 section 4.2.1.10. A stolen root key must not open every other site to whoever holds it."""
    constraints = loaded(files.root)[0].extensions.get_extension_for_class(x509.NameConstraints)
    names = constraints.value

    assert constraints.critical
    assert [name.value for name in names.permitted_subtrees] == [NAME, "record"]
    assert {str(address.value) for address in names.excluded_subtrees} == {"0.0.0.0/0", "::/0"}
    foreign = certificate._leaf(
        ("bank.example",), certificate.ec.generate_private_key(certificate.ec.SECP256R1()), *root_of(files), NOW
    )
    with pytest.raises(VerificationError):
        verified(files, "bank.example", leaf=foreign)


def root_of(files):
    return certificate._root(files, (NAME,), NOW)


def test_the_keys_are_the_owners_alone(files):
    assert [path.stat().st_mode & 0o777 for path in (files.root_key, files.leaf_key)] == [0o600, 0o600]
    assert files.root.parent.stat().st_mode & 0o777 == 0o700


def test_pythons_tls_takes_it(files):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(files.leaf, files.leaf_key)
    ssl.create_default_context(cafile=files.root)


@pytest.mark.parametrize(
    "name", ["10.0.0.5", "::1", "fe80::1", "*.plant.example", "Record.Plant", "a b", "", "-x.example", "a..b", "x" * 64]
)
def test_what_is_no_name_gets_no_certificate(tmp_path, name):
    with pytest.raises(certificate.NotAName):
        certificate.make(tmp_path / "tls", (name,))

    assert not (tmp_path / "tls").exists()


def test_nothing_is_ever_written_over(files):
    before = {path: path.read_bytes() for path in files.root.parent.iterdir()}

    with pytest.raises(certificate.CertificateExists, match="move it away"):
        certificate.make(files.root.parent, (NAME,))
    files.leaf.unlink(), files.leaf_key.unlink(), files.root_key.unlink()
    with pytest.raises(certificate.CertificateExists, match="without its key"):
        certificate.make(files.root.parent, (NAME,))

    assert files.root.read_bytes() == before[files.root]


def test_the_next_certificate_comes_from_the_same_root(files):
    root = files.root.read_bytes()
    files.leaf.unlink(), files.leaf_key.unlink()

    again = certificate.make(files.root.parent, (NAME,), NOW + timedelta(days=800))

    assert files.root.read_bytes() == root
    assert verified(again, NAME, NOW + timedelta(days=900))


def test_a_name_that_the_root_may_not_vouch_for_is_refused_and_not_left_to_the_phones(files):
    """RFC 5280, 4.2.1.10: a certificate outside the permitted subtrees is refused by whoever trusts the root."""
    files.leaf.unlink(), files.leaf_key.unlink()
    for strange in ("other.plant.example", "xrecord.plant.example", "plant.example"):
        with pytest.raises(certificate.NotAName, match=f"may vouch for {NAME}, record alone, .* {strange} "):
            certificate.make(files.root.parent, (NAME, strange), NOW)
    assert not files.leaf.exists()

    again = certificate.make(files.root.parent, (f"two.{NAME}", "record"), NOW)

    assert verified(again, f"two.{NAME}")


def test_the_key_of_another_root_is_told(files, tmp_path):
    other = certificate.make(tmp_path / "other", (NAME,), NOW)
    files.leaf.unlink(), files.leaf_key.unlink()
    files.root_key.write_bytes(other.root_key.read_bytes())

    with pytest.raises(certificate.CertificateExists, match="is not the key of"):
        certificate.make(files.root.parent, (NAME,), NOW)


def test_its_names_can_be_read_back(files):
    assert certificate.names_in(files.leaf) == (NAME, "record")


def test_a_key_in_the_place_of_the_certificate_is_told_as_that(files):
    """The two options are easily exchanged; what was told was a library's own words, with an address of the web."""
    for asked in (certificate.names_in, certificate.days_left):
        with pytest.raises(ValueError, match=r"it holds no certificate in PEM.* is it the key\?") as refused:
            asked(files.leaf_key)
        assert "http" not in str(refused.value)
