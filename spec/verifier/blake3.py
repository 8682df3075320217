"""BLAKE3, hash mode only, after the published description of the function.

Input is fed bit by bit. `digest` leaves the state as it was, and `copy` is a
handful of references, so the digest at every line of a growing file costs
little more than the digest at its end.
"""

from copy import copy
from struct import pack, unpack

BLOCK, CHUNK = 64, 1024
CHUNK_START, CHUNK_END, PARENT, ROOT = 1, 2, 4, 8
MASK = 0xFFFFFFFF

IV = (
    0x6A09E667, 0xBB67AE85, 0x3C6EF372, 0xA54FF53A,
    0x510E527F, 0x9B05688C, 0x1F83D9AB, 0x5BE0CD19,
)
PERMUTATION = (2, 6, 3, 10, 7, 0, 4, 13, 1, 11, 12, 5, 9, 14, 15, 8)
COLUMNS_THEN_DIAGONALS = (
    (0, 4, 8, 12), (1, 5, 9, 13), (2, 6, 10, 14), (3, 7, 11, 15),
    (0, 5, 10, 15), (1, 6, 11, 12), (2, 7, 8, 13), (3, 4, 9, 14),
)


def _schedule():
    """Which two message words each of the 56 mixing steps takes."""
    order, steps = tuple(range(16)), []
    for _ in range(7):
        for step, (a, b, c, d) in enumerate(COLUMNS_THEN_DIAGONALS):
            steps.append((a, b, c, d, order[2 * step], order[2 * step + 1]))
        order = tuple(order[i] for i in PERMUTATION)
    return steps


STEPS = _schedule()


def _compress(chaining, block, counter, flags):
    """Mix one block (at most 64 bytes) into a chaining value of eight words."""
    m = unpack("<16I", block.ljust(BLOCK, b"\0"))
    v = [*chaining, *IV[:4], counter & MASK, counter >> 32, len(block), flags]
    for a, b, c, d, x, y in STEPS:
        va, vb, vc, vd = v[a], v[b], v[c], v[d]
        va = (va + vb + m[x]) & MASK
        vd ^= va
        vd = (vd >> 16) | (vd << 16) & MASK
        vc = (vc + vd) & MASK
        vb ^= vc
        vb = (vb >> 12) | (vb << 20) & MASK
        va = (va + vb + m[y]) & MASK
        vd ^= va
        vd = (vd >> 8) | (vd << 24) & MASK
        vc = (vc + vd) & MASK
        vb ^= vc
        vb = (vb >> 7) | (vb << 25) & MASK
        v[a], v[b], v[c], v[d] = va, vb, vc, vd
    return tuple(v[i] ^ v[i + 8] for i in range(8))


def _parent(left, right, flags=0):
    return _compress(IV, pack("<16I", *left, *right), 0, PARENT | flags)


class Blake3:
    """The state is only ever replaced, never changed in place, so that copies may share it."""

    def __init__(self, data=b""):
        self._subtrees = ()     # chaining values of whole subtrees, largest first
        self._chunks = 0        # chunks finished
        self._chaining = IV     # of the chunk at hand
        self._blocks = 0        # blocks of that chunk already mixed in
        self._pending = b""     # up to one block: the last one is mixed differently
        self.update(data)

    def copy(self):
        return copy(self)

    def update(self, data):
        at = 0
        while at < len(data):
            if len(self._pending) == BLOCK:
                self._mix_pending()
            room = BLOCK - len(self._pending)
            self._pending += data[at:at + room]
            at += room
        return self

    def digest(self):
        last = self._blocks_flags() | CHUNK_END
        if not self._subtrees:
            return pack("<8I", *_compress(self._chaining, self._pending, 0, last | ROOT))
        right = _compress(self._chaining, self._pending, self._chunks, last)
        for left in reversed(self._subtrees[1:]):
            right = _parent(left, right)
        return pack("<8I", *_parent(self._subtrees[0], right, ROOT))

    def hexdigest(self):
        return self.digest().hex()

    def _blocks_flags(self):
        return CHUNK_START if self._blocks == 0 else 0

    def _mix_pending(self):
        """More input is coming, so the pending block is not the last of all."""
        if self._blocks == CHUNK // BLOCK - 1:
            self._finish_chunk()
        else:
            self._chaining = _compress(self._chaining, self._pending, self._chunks, self._blocks_flags())
            self._blocks += 1
        self._pending = b""

    def _finish_chunk(self):
        value = _compress(self._chaining, self._pending, self._chunks, CHUNK_END)
        self._chunks += 1
        # Each trailing zero bit of the count says that two equal subtrees now stand side by side.
        subtrees, count = self._subtrees, self._chunks
        while count % 2 == 0:
            value = _parent(subtrees[-1], value)
            subtrees, count = subtrees[:-1], count // 2
        self._subtrees = (*subtrees, value)
        self._chaining, self._blocks = IV, 0
