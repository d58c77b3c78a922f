"""The Merkle tree against RFC 9162 and against the figures of the first open implementation of such trees.

Figures: the tests of github.com/google/certificate-transparency, python/ct/crypto/merkle_test.py (RFC 6962, whose trees
RFC 9162 keeps).
"""

from hashlib import sha256
from itertools import pairwise
from math import ceil, log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.merkle import (
    Frontier,
    consistency_proof,
    inclusion_proof,
    is_consistent,
    is_included,
    leaf_hash,
    node_hash,
    root_of,
)

ENTRIES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
LEAVES = [leaf_hash(bytes.fromhex(entry)) for entry in ENTRIES]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
CONSISTENT = [
    (1, 1, []),
    (
        1,
        8,
        [
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        6,
        8,
        [
            "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (
        2,
        5,
        [
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
]
# Leaf 848049 in a public log of 3630887 entries.
PUBLIC_LEAF = "7a395c866d5ecdb0cccb623e011dbc392cd348d1d1d72776174e127a24b09c78"
PUBLIC_ROOT = "78316a05c9bcf14a3a4548f5b854a9adfcd46a4c034401b3ce7eb7ac2f1d0ecb"
PUBLIC_PATH = """
1a208aeebcd1b39fe2de247ee8db9454e1e93a312d206b87f6ca9cc6ec6f1ddd
0a1b78b383f580856f433c01a5741e160d451c185910027f6cc9f828687a40c4
3d1745789bc63f2da15850de1c12a5bf46ed81e1cc90f086148b1662e79aab3d
9095b61e14d8990acf390905621e62b1714fb8e399fbb71de5510e0aef45affe
0a332b91b8fab564e6afd1dd452449e04619b18accc0ff9aa8393cd4928451f2
2336f0181d264aed6d8f3a6507ca14a8d3b3c3a23791ac263e845d208c1ee330
b4ce56e300590500360c146c6452edbede25d4ed83919278749ee5dbe178e048
933f6ddc848ea562e4f9c5cfb5f176941301dad0c6fdb9d1fbbe34fac1be6966
b95a6222958a86f74c030be27c44f57dbe313e5e7c7f4ffb98bcbd3a03bb52f2
daeeb3ce5923defd0faeb8e0c210b753b85b809445d7d3d3cd537a9aabaa9c45
7fadd0a13e9138a2aa6c3fdec4e2275af233b94812784f66bcca9aa8e989f2bc
1864e6ba3e32878610546539734fb5eeae2529991f130c575c73a7e25a2a7c56
12842d1202b1dc6828a17ab253c02e7ce9409b5192430feba44189f39cc02d66
29af64b16fa3053c13d02ac63aa75b23aa468506e44c3a2315edc85d2dc22b11
b527b99934a0bd9edd154e449b0502e2c499bba783f3bc3dfe23364b6b532009
4584db8ae8e351ace08e01f306378a92bfd43611714814f3d834a2842d69faa8
86a9a41573b0d6e4292f01e93243d6cc65b30f06606fc6fa57390e7e90ed580f
a88b98fbe84d4c6aae8db9d1605dfac059d9f03fe0fcb0d5dff1295dacba09e6
06326dc617a6d1f7021dc536026dbfd5fffc6f7c5531d48ef6ccd1ed1569f2a1
f41fe8fdc3a2e4e8345e30216e7ebecffee26ff266eeced208a6c2a3cf08f960
40cf5bde8abb76983f3e98ba97aa36240402975674e120f234b3448911090f8d
b3222dc8658538079883d980d7fdc2bef9285344ea34338968f736b04aeb387a
""".strip().splitlines()

hashes = st.lists(st.binary(min_size=32, max_size=32), max_size=70)
some = hashes.filter(bool)


def unhex(lines: list[str]) -> list[bytes]:
    return [bytes.fromhex(line) for line in lines]


def tree_hash(leaves: list[bytes]) -> bytes:
    """MTH of RFC 9162, section 2.1.1, as it stands there, over leaf hashes."""
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return leaves[0]
    k = 1
    while 2 * k < len(leaves):
        k *= 2
    return sha256(b"\x01" + tree_hash(leaves[:k]) + tree_hash(leaves[k:])).digest()


@pytest.mark.parametrize("size", range(9))
def test_roots_are_those_of_the_reference(size: int) -> None:
    assert root_of(LEAVES[:size]).hex() == ROOTS[size]


def test_an_inner_node_is_that_of_the_reference() -> None:
    left, right = bytes(range(0x20)), bytes(range(0x20, 0x40))
    assert node_hash(left, right).hex() == "1a378704c17da31e2d05b6d121c2bb2c7d76f6ee6fa8f983e596c2d034963c57"


@pytest.mark.parametrize(("first", "size", "proof"), CONSISTENT)
def test_consistency_proofs_are_those_of_the_reference(first: int, size: int, proof: list[str]) -> None:
    assert consistency_proof(LEAVES[:size], first) == unhex(proof)
    assert is_consistent(first, bytes.fromhex(ROOTS[first]), size, bytes.fromhex(ROOTS[size]), unhex(proof))


def test_a_leaf_of_a_large_public_log_is_included() -> None:
    leaf, root, path = bytes.fromhex(PUBLIC_LEAF), bytes.fromhex(PUBLIC_ROOT), unhex(PUBLIC_PATH)
    assert is_included(leaf, 848_049, 3_630_887, path, root)
    assert not is_included(leaf, 848_048, 3_630_887, path, root)
    assert not is_included(leaf, 848_049, 3_630_887, path[:-1], root)


def test_an_inner_node_is_not_taken_for_a_leaf() -> None:
    inner, rest = node_hash(LEAVES[0], LEAVES[1]), node_hash(LEAVES[2], LEAVES[3])
    assert not is_included(inner, 0, 4, [rest], root_of(LEAVES[:4]))
    assert not is_consistent(2, inner, 8, root_of(LEAVES[:4]), [rest])


def test_proofs_have_the_lengths_of_the_rfc_s_example() -> None:
    # RFC 9162, section 2.1.5: seven leaves.
    seven = LEAVES[:7]
    assert [len(inclusion_proof(seven, index)) for index in (0, 3, 4, 6)] == [3, 3, 3, 2]
    assert [len(consistency_proof(seven, first)) for first in (3, 4, 6)] == [4, 1, 3]


@given(hashes)
def test_the_root_is_the_plain_recursive_one(leaves: list[bytes]) -> None:
    assert root_of(leaves) == tree_hash(leaves)


@given(hashes, st.lists(st.integers(0, 70)))
def test_it_does_not_matter_in_which_pieces_a_tree_grew(leaves: list[bytes], cuts: list[int]) -> None:
    tree = Frontier()
    for begin, end in pairwise(sorted({0, len(leaves), *(min(cut, len(leaves)) for cut in cuts)})):
        tree = tree.extended(leaves[begin:end])
        assert tree.root == tree_hash(leaves[:end])
    assert tree == Frontier().extended(leaves) == Frontier.stored(tree.size, tree.packed)


def test_what_cannot_be_the_peaks_of_a_tree_is_refused() -> None:
    for size, peaks in ((1, b""), (3, bytes(32)), (-1, b""), (0, bytes(32)), (2, bytes(31))):
        with pytest.raises(ValueError, match="cannot be the peaks of a tree"):
            Frontier.stored(size, peaks)


@given(some, st.data())
def test_every_leaf_has_a_proof_that_shows_it_and_nothing_else(leaves: list[bytes], data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(leaves) - 1))
    size, root, proof = len(leaves), tree_hash(leaves), inclusion_proof(leaves, index)
    assert is_included(leaves[index], index, size, proof, root)
    assert len(proof) <= ceil(log2(size))
    other = data.draw(st.binary(min_size=32, max_size=32).filter(lambda leaf: leaf != leaves[index]))
    assert not is_included(other, index, size, proof, root)
    assert not is_included(leaves[index], index, size, [*proof, other], root)
    assert not is_included(leaves[index], size, size, proof, root)
    if proof:
        spoiled = data.draw(st.integers(0, len(proof) - 1))
        assert not is_included(leaves[index], index, size, proof[:spoiled] + proof[spoiled + 1 :], root)
        proof[spoiled] = bytes(byte ^ 1 for byte in proof[spoiled])
        assert not is_included(leaves[index], index, size, proof, root)


@given(some, st.data())
def test_every_earlier_tree_has_a_proof_that_this_one_grew_from_it(leaves: list[bytes], data: st.DataObject) -> None:
    first = data.draw(st.integers(1, len(leaves)))
    size, before, root = len(leaves), tree_hash(leaves[:first]), tree_hash(leaves)
    proof = consistency_proof(leaves, first)
    assert is_consistent(first, before, size, root, proof)
    assert len(proof) <= (ceil(log2(size)) + 1 if size > 1 else 0)
    other = data.draw(st.binary(min_size=32, max_size=32).filter(lambda found: found not in (before, root)))
    assert not is_consistent(first, other, size, root, proof)
    assert not is_consistent(first, before, size, other, proof)
    assert not is_consistent(first, before, size, root, [*proof, other])
    assert not is_consistent(0, before, size, root, proof)
    assert not is_consistent(size + 1, before, size, root, proof)
    if proof:
        assert not is_consistent(first, before, size, root, proof[:-1])
