"""Ed25519 signatures (RFC 8032), checked strictly (mark.md §15).

One signature has one spelling, and neither the key nor the point of a signature may be of small
order: with such a key one signature would be right for any text.
"""

from hashlib import sha512

P = 2 ** 255 - 19
L = 2 ** 252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
ROOT_OF_MINUS_ONE = pow(2, (P - 1) // 4, P)
NEUTRAL = (0, 1, 1, 0)      # points are (X, Y, Z, T): x = X/Z, y = Y/Z, xy = T/Z


def verify(key, message, signature):
    """Whether 64 bytes are the signature of `message` by the 32 bytes of a key."""
    if len(key) != 32 or len(signature) != 64:
        return False
    public, point, scalar = decode(key), decode(signature[:32]), int.from_bytes(signature[32:], "little")
    if public is None or point is None or scalar >= L:
        return False
    if is_small(public) or is_small(point):
        return False
    challenge = hashed(signature[:32], key, message)
    # The equation as it stands, not eight times it: else a key with a part of small order has two faces.
    return equal(sum_of_two(scalar, BASE, challenge, negative(public)), point)


def sign(secret, message):
    """Only the vectors and the tests sign."""
    scalar, prefix = expanded(secret)
    key = public_key(secret)
    nonce = hashed(prefix, message)
    point = encode(times(nonce, BASE))
    answer = (nonce + hashed(point, key, message) * scalar) % L
    return point + answer.to_bytes(32, "little")


def public_key(secret):
    return encode(times(expanded(secret)[0], BASE))


def expanded(secret):
    digest = sha512(secret).digest()
    scalar = int.from_bytes(digest[:32], "little")
    return scalar & ~7 & (2 ** 254 - 1) | 2 ** 254, digest[32:]


def hashed(*parts):
    return int.from_bytes(sha512(b"".join(parts)).digest(), "little") % L


def add(one, other):
    (x1, y1, z1, t1), (x2, y2, z2, t2) = one, other
    a, b = (y1 - x1) * (y2 - x2) % P, (y1 + x1) * (y2 + x2) % P
    c, d = 2 * t1 * t2 * D % P, 2 * z1 * z2 % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % P, g * h % P, f * g % P, e * h % P


def negative(point):
    x, y, z, t = point
    return -x % P, y, z, -t % P


def times(scalar, point):
    return sum_of_two(scalar, point, 0, NEUTRAL)


def sum_of_two(scalar, point, other_scalar, other):
    """scalar × point + other_scalar × other, doubling once for both."""
    steps = (NEUTRAL, point, other, add(point, other))
    total = NEUTRAL
    for bit in reversed(range(max(scalar.bit_length(), other_scalar.bit_length()))):
        total = add(total, total)
        step = (scalar >> bit & 1) | (other_scalar >> bit & 1) << 1
        if step:
            total = add(total, steps[step])
    return total


def equal(one, other):
    (x1, y1, z1, _), (x2, y2, z2, _) = one, other
    return (x1 * z2 - x2 * z1) % P == 0 and (y1 * z2 - y2 * z1) % P == 0


def is_small(point):
    """Of order 1, 2, 4 or 8."""
    return equal(times(8, point), NEUTRAL)


def encode(point):
    x, y, z, _ = point
    inverse = pow(z, -1, P)
    x, y = x * inverse % P, y * inverse % P
    return (y | (x & 1) << 255).to_bytes(32, "little")


def decode(encoded):
    """The point in its one spelling, or None."""
    number = int.from_bytes(encoded, "little")
    y, sign_bit = number & (2 ** 255 - 1), number >> 255
    x = root_of((y * y - 1) * pow(D * y * y + 1, -1, P) % P) if y < P else None
    if x is None or (x == 0 and sign_bit):
        return None
    if x & 1 != sign_bit:
        x = P - x
    return x, y, 1, x * y % P


def root_of(square):
    """A square root modulo P, or None."""
    root = pow(square, (P + 3) // 8, P)
    for candidate in (root, root * ROOT_OF_MINUS_ONE % P):
        if candidate * candidate % P == square:
            return candidate
    return None


BASE = decode((4 * pow(5, -1, P) % P).to_bytes(32, "little"))
