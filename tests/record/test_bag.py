"""Bags after RFC 8493: as the published example has them, and valid for a reader of others."""

from __future__ import annotations

import logging
import re
from pathlib import Path

import bagit
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.record.bag import DECLARATION, bag, digest_of, info_of, info_text, manifest_lines, manifest_text
from folders import contents
from reference import published

RULES = published.data("14-bagit-annotation.json")["bagit"]
EXAMPLE = RULES["example"]
PUBLISHED = {f"data/{name}": text.encode() for name, text in EXAMPLE["payload"].items()}


def test_the_declaration_is_the_published_one_to_the_byte() -> None:
    assert DECLARATION.decode() == RULES["bagit_txt_exact"]


def test_the_published_example_gets_the_published_manifest() -> None:
    made = bag(PUBLISHED, (), {})
    assert made["manifest-sha512.txt"].decode().splitlines() == sorted(EXAMPLE["manifest_sha512"], key=lambda line: line[130:])
    assert made["bag-info.txt"].decode() == f"Payload-Oxum: {EXAMPLE['payload_oxum']}\n"


def test_a_bag_has_all_that_is_required_and_nothing_that_may_not_be_listed() -> None:
    made = bag(PUBLISHED, (("Contact-Name", "Someone"),), {"README.txt": b"x"})
    assert {"bagit.txt", "manifest-sha512.txt", "tagmanifest-sha512.txt", "bag-info.txt", "README.txt"} < made.keys()
    listed = [line[130:] for line in made["tagmanifest-sha512.txt"].decode().splitlines()]
    assert listed == ["README.txt", "bag-info.txt", "bagit.txt", "manifest-sha512.txt"]


@pytest.mark.parametrize("case", RULES["percent_encoding"])
def test_only_line_ends_and_percent_are_written_otherwise(case: dict[str, str]) -> None:
    assert manifest_text({case["path"]: "0" * 128}) == f"{'0' * 128}  {case['manifest']}\n"


@given(st.dictionaries(st.text(min_size=1).map(lambda t: f"data/{t}"), st.binary(max_size=20), min_size=1, max_size=5))
def test_any_path_comes_back_from_a_manifest(payload: dict[str, bytes]) -> None:
    digests = {path: digest_of(content).sha512 for path, content in payload.items()}
    assert dict(line for line in manifest_lines(manifest_text(digests)) if isinstance(line, tuple)) == digests


def test_what_is_said_of_a_bag_is_a_line_each_and_comes_back() -> None:
    said = (("Contact-Name", "Ada\nBench"), ("Contact-Phone", ""), ("External-Description", "A: b"))
    assert info_text(said) == "Contact-Name: Ada Bench\nExternal-Description: A: b\n"
    assert info_of("Contact-Name: Ada\n  Bench\n") == {"Contact-Name": "Ada Bench"}
    assert {label for label, _ in said} <= set(RULES["bag_info_reserved_labels"])


def test_a_file_on_the_disk_has_the_digest_of_its_bytes(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"hello\n")
    assert digest_of(tmp_path / "a") == digest_of(b"hello\n")
    assert re.fullmatch("[0-9a-f]{128}", digest_of(b"").sha512)


def test_bagit_finds_it_valid_and_finds_what_is_tampered_with(folder: Path) -> None:
    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    assert bagit.Bag(str(folder)).validate()
    assert contents(folder)["bagit.txt"] == DECLARATION
    (folder / "data/notes.txt").write_bytes(b"hellO\n")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(folder)).validate()
