"""The text of a square code: what was signed comes back, and nothing that was altered does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import example, given
from hypothesis import strategies as st

from labkit.classroom.certificates.checking import check
from labkit.classroom.certificates.issuer_key import IssuerKey, PublicKey
from labkit.classroom.certificates.signed_text import SignedText, codes_in
from labkit.classroom.certificates.statement import LabDone, Statement
from labkit.classroom.errors import ClassError

KEY = IssuerKey(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))
OTHER = IssuerKey(Ed25519PrivateKey.from_private_bytes(bytes(32)))
BO = Statement(
    serial="H2KKF-V6XC5-1",
    name="Bo Tarn",
    title="Packing hall",
    place="",
    issuer="Brindlemere Workshop",
    day="2026-11-27",
    issued="2026-11-29",
    until="2028-11-27",
    percent="84.8",
    at_least=False,
    waits="",
    pass_mark="60",
    labs=(LabDone("Plan the trunk", "1.4.0"),),
    competences=("Plans a trunk",),
)
TEXT = SignedText.made(BO, KEY).text
ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"


def genuine(text: str, *keys: IssuerKey) -> bool:
    try:
        remarks = list(check(text, [key.public for key in keys or (KEY,)]))
    except ClassError:
        return False
    return remarks[0].sentence.startswith("Genuine")


# RFC 8032, section 7.1, tests 1 to 3: secret key, public key, message, signature.
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701c"
        "f9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0"
        "f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f76098"
        "4dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
]


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_the_primitive_signs_as_its_standard_says(
    secret: str, public: str, message: str, signature: str
) -> None:
    key = IssuerKey(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret)))
    assert key.public == PublicKey(bytes.fromhex(public))
    assert key.sign(bytes.fromhex(message)).hex() == signature
    assert key.public.has_signed(bytes.fromhex(message), bytes.fromhex(signature))
    assert not key.public.has_signed(bytes.fromhex(message) + b"x", bytes.fromhex(signature))


_WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)


@given(_WORDS, _WORDS, st.lists(_WORDS, max_size=5), st.booleans())
def test_what_is_signed_comes_back_as_it_was(
    name: str, issuer: str, competences: list[str], together: bool
) -> None:
    labs = (LabDone("Plan the trunk", "1.4.0", together),)
    said = replace(BO, name=name, issuer=issuer, competences=tuple(competences), labs=labs)
    made = SignedText.made(said, KEY)
    read = SignedText.read(made.text)
    assert read is not None
    assert read.is_of(KEY.public)
    assert read.statement == said
    assert Statement.read(said.text) == said


@given(st.integers(0, len(TEXT) - 1), st.sampled_from(f"{ALPHABET}0189:.-=abz"))
def test_one_altered_character_is_refused(place: int, letter: str) -> None:
    altered = TEXT[:place] + letter + TEXT[place + 1 :]
    assert genuine(altered) == (altered == TEXT)


def test_every_character_may_be_the_altered_one() -> None:
    """Each place once, by the letter that differs in the lowest bit alone."""
    assert genuine(TEXT)
    for place in range(len("LABKIT1:"), len(TEXT) - 1):
        letter = ALPHABET[ALPHABET.index(TEXT[place]) ^ 1]
        assert not genuine(TEXT[:place] + letter + TEXT[place + 1 :]), place


@given(st.integers(0, len(TEXT)), st.text(ALPHABET, min_size=1, max_size=9))
@example(1, "L")  # which leaves the whole text standing behind it
def test_what_is_put_in_or_left_out_is_refused(place: int, letters: str) -> None:
    put_in = TEXT[:place] + letters + TEXT[place:]
    assert genuine(put_in) == (TEXT in put_in)
    left_out = TEXT[:place] + TEXT[place + len(letters) :]
    assert genuine(left_out) == (left_out == TEXT)


def test_lines_and_spaces_do_not_matter() -> None:
    lines = "\r\n ".join(TEXT[place : place + 40] for place in range(0, len(TEXT), 40))
    assert genuine(f"The square says:\n{lines}\nand no more.")
    assert list(codes_in(f"{TEXT} {TEXT}")) == [TEXT, TEXT]


def test_another_key_is_not_the_issuer_s() -> None:
    by_other = SignedText.made(BO, OTHER)
    assert not genuine(by_other.text)
    assert genuine(by_other.text, KEY, OTHER)
    # Who names the issuer's key and signs with another is found out.
    posing = replace(by_other, key=KEY.public.digest[:8]).text
    assert not genuine(posing)
    assert not genuine(posing, KEY, OTHER)


def test_a_signature_of_something_else_is_no_certificate() -> None:
    for packed in (b"", b"x", b"x" * 500):
        signature = KEY.sign(b"labkit certificate 1\n" + packed)
        made = SignedText(KEY.public.digest[:8], signature, packed)
        assert made.is_of(KEY.public)
        assert made.statement is None
        assert not genuine(made.text)


@pytest.mark.parametrize(
    "changed",
    [
        BO.text.replace('"at_least":false', '"at_least":0'),
        BO.text.replace('"at_least":false,', ""),
        BO.text.replace("{", '{"more":"x",', 1),
        BO.text.replace(",", ", ", 1),
        BO.text.replace("2026-11-27", "2026-11-31"),
        BO.text.replace('"together":false', '"together":false,"x":1'),
        BO.text.replace("Bo Tarn", "\\ud800"),
        "[" * 5000,
        "null",
    ],
)
def test_a_statement_has_one_form(changed: str) -> None:
    assert changed != BO.text
    assert Statement.read(changed) is None


def test_what_unpacks_to_very_much_or_is_followed_by_more_is_not_read() -> None:
    signed = SignedText.made(BO, KEY)
    assert replace(signed, packed=signed.packed + b"x").statement is None
    assert replace(signed, packed=signed.packed[:-1]).statement is None
    long = SignedText.made(replace(BO, name="x" * 30_000), KEY)
    assert long.is_of(KEY.public)
    assert long.statement is None


def test_a_public_key_goes_by_a_file_and_a_secret_one_is_not_taken_for_it(tmp_path: Path) -> None:
    file = tmp_path / "public.pem"
    file.write_bytes(KEY.public.pem)
    assert PublicKey.read(file) == KEY.public
    file.write_bytes(KEY.pem)
    with pytest.raises(ClassError, match="is a secret key"):
        PublicKey.read(file)
    file.write_bytes(b"-----BEGIN PUBLIC KEY-----\nx\n-----END PUBLIC KEY-----\n")
    with pytest.raises(ClassError, match="no public key of an issuer"):
        PublicKey.read(file)
