"""A Merkle tree that only grows, after RFC 9162, section 2.1, with SHA-256: pure functions and one frozen value.

Leaves are given by their hashes (``leaf_hash`` of their bytes), roots and proofs are 32-byte hashes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Self

HASH_BYTES = 32


def leaf_hash(data: bytes) -> bytes:
    """Hash of one leaf's bytes."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of an inner node."""
    return sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True, slots=True)
class Frontier:
    """All that must be kept of a tree to let it grow and to name its root.

    size: number of leaves.
    peaks: roots of the full subtrees of which it is made, largest first: one for each bit that is set in ``size``.
    """

    size: int = 0
    peaks: tuple[bytes, ...] = ()

    @classmethod
    def stored(cls, size: int, peaks: bytes) -> Self:
        """From the form that ``packed`` gives.

        Raises:
            ValueError: no tree of this size has so many peaks.
        """
        if size < 0 or len(peaks) != HASH_BYTES * size.bit_count():
            raise ValueError(f"{len(peaks)} bytes cannot be the peaks of a tree with {size} leaves")
        return cls(size, tuple(peaks[at : at + HASH_BYTES] for at in range(0, len(peaks), HASH_BYTES)))

    @property
    def packed(self) -> bytes:
        """The peaks one after the other, ``HASH_BYTES`` each."""
        return b"".join(self.peaks)

    @property
    def root(self) -> bytes:
        """Root of the tree; that of the empty tree is the hash of nothing."""
        if not self.peaks:
            return sha256(b"").digest()
        root = self.peaks[-1]
        for peak in reversed(self.peaks[:-1]):
            root = node_hash(peak, root)
        return root

    def extended(self, leaves: Sequence[bytes]) -> "Frontier":
        """The tree with these leaf hashes appended, level by level: one node hash for each leaf, on average."""
        old, new, level = list(self.peaks), [], list(leaves)
        bits = self.size
        while level:
            if bits & 1:
                level.insert(0, old.pop())
            if len(level) & 1:
                new.append(level.pop())
            pairs = iter(level)
            # Written out instead of node_hash: a call for each row of the journal would be felt.
            level = [sha256(b"\x01" + left + right).digest() for left, right in zip(pairs, pairs, strict=True)]
            bits >>= 1
        return Frontier(self.size + len(leaves), (*old, *reversed(new)))


def root_of(leaves: Sequence[bytes]) -> bytes:
    """Root of the tree with these leaf hashes."""
    return Frontier().extended(leaves).root


# ---- a leaf is in the tree (section 2.1.3) ------------------------------------------------------------------------


def inclusion_proof(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """What shows that the leaf at ``index``, from 0, is in the tree; at most ceil(log2 n) hashes."""
    if len(leaves) == 1:
        return []
    split = _split(len(leaves))
    if index < split:
        return [*inclusion_proof(leaves[:split], index), root_of(leaves[split:])]
    return [*inclusion_proof(leaves[split:], index - split), root_of(leaves[:split])]


def is_included(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether the proof shows that a tree of this size and root has this leaf hash at ``index``."""
    if not 0 <= index < size:
        return False
    at, last, found = index, size - 1, leaf
    for step in proof:
        if last == 0:
            return False
        if at & 1 or at == last:
            found = node_hash(step, found)
            at, last = _up_to_a_right_child(at, last)
        else:
            found = node_hash(found, step)
        at, last = at >> 1, last >> 1
    return last == 0 and found == root


# ---- a tree is the beginning of another (section 2.1.4) ------------------------------------------------------------


def consistency_proof(leaves: Sequence[bytes], first: int) -> list[bytes]:
    """What shows that the tree of the first ``first`` leaves grew into this one; 1 <= first <= number of leaves."""
    return list(_subproof(leaves, first, whole=True))


def is_consistent(first: int, first_root: bytes, size: int, root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether the proof shows that the tree of ``first`` leaves is the beginning of that of ``size``."""
    if not 0 < first <= size:
        return False
    if first == size:
        return not proof and first_root == root
    steps = [first_root, *proof] if first.bit_count() == 1 else list(proof)
    if not steps:
        return False
    at, last = first - 1, size - 1
    while at & 1:
        at, last = at >> 1, last >> 1
    was = now = steps[0]
    for step in steps[1:]:
        if last == 0:
            return False
        if at & 1 or at == last:
            was, now = node_hash(step, was), node_hash(step, now)
            at, last = _up_to_a_right_child(at, last)
        else:
            now = node_hash(now, step)
        at, last = at >> 1, last >> 1
    return last == 0 and was == first_root and now == root


def _subproof(leaves: Sequence[bytes], first: int, *, whole: bool) -> Iterator[bytes]:
    if first == len(leaves):
        if not whole:
            yield root_of(leaves)
        return
    split = _split(len(leaves))
    if first <= split:
        yield from _subproof(leaves[:split], first, whole=whole)
        yield root_of(leaves[split:])
    else:
        yield from _subproof(leaves[split:], first - split, whole=False)
        yield root_of(leaves[:split])


def _up_to_a_right_child(at: int, last: int) -> tuple[int, int]:
    while not at & 1 and at:
        at, last = at >> 1, last >> 1
    return at, last


def _split(size: int) -> int:
    """The largest power of two below ``size``."""
    return 1 << (size - 1).bit_length() - 1
