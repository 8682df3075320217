"""python3 -m unittest discover spec/verifier"""

import shutil
import subprocess
import sys
import unittest
from pathlib import Path
from tempfile import TemporaryDirectory

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from ed25519 import L, decode, encode, public_key, sign, verify  # noqa: E402  (the folder is not a package)

# RFC 8032 §7.1, tests 1 to 3: secret, key, message, signature. Written from memory; a signature is worked out from
# secret and message alone, so that a digit remembered wrongly would show. `openssl` agrees on the second and third
# (it takes no empty message).
PUBLISHED = (
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
        "d25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
        "387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
        "4a7c15e9716ed28dc027beceea1ec40a",
    ),
)
SECRET, MESSAGE = bytes(range(32)), b"how far the file goes"


class Ed25519(unittest.TestCase):
    def test_published(self):
        for secret, key, message, signature in (map(bytes.fromhex, row) for row in PUBLISHED):
            self.assertEqual((public_key(secret), sign(secret, message)), (key, signature))
            self.assertTrue(verify(key, message, signature))

    def test_any_flipped_bit(self):
        key, signature = public_key(SECRET), sign(SECRET, MESSAGE)
        for bit in range(0, 512, 7):
            wrong = (int.from_bytes(signature, "little") ^ 1 << bit).to_bytes(64, "little")
            self.assertFalse(verify(key, MESSAGE, wrong), bit)
        for bit in range(0, 256, 7):
            wrong = (int.from_bytes(key, "little") ^ 1 << bit).to_bytes(32, "little")
            self.assertFalse(verify(wrong, MESSAGE, signature), bit)
        self.assertFalse(verify(key, MESSAGE + b" ", signature))

    def test_lengths(self):
        key, signature = public_key(SECRET), sign(SECRET, MESSAGE)
        for wrong in (b"", signature[:63], signature + b"\0"):
            self.assertFalse(verify(key, MESSAGE, wrong))
        self.assertFalse(verify(key[:31], MESSAGE, signature))

    def test_a_number_beyond_the_order_of_the_group(self):
        key, signature = public_key(SECRET), sign(SECRET, MESSAGE)
        for times in range(1, 15):
            number = int.from_bytes(signature[32:], "little") + times * L
            self.assertFalse(verify(key, MESSAGE, signature[:32] + number.to_bytes(32, "little")))

    def test_a_point_has_one_spelling(self):
        read = 0
        for number in range(2000):
            for sign_bit in (0, 1 << 255):
                spelled = (number | sign_bit).to_bytes(32, "little")
                point = decode(spelled)
                read += point is not None
                self.assertIn(point and encode(point), (None, spelled))
        self.assertGreater(read, 1500)
        for y in range(2 ** 255 - 19, 2 ** 255):
            self.assertIsNone(decode(y.to_bytes(32, "little")))
        self.assertIsNone(decode((1 | 1 << 255).to_bytes(32, "little")), "x is 0 and cannot be odd")

    @unittest.skipUnless(shutil.which("openssl"), "openssl is not here")
    def test_openssl_agrees(self):
        for number in range(5):
            secret, message = bytes([number]) * 32, MESSAGE * (number + 1)
            self.assertEqual(signed_by_openssl(secret, message), sign(secret, message))


def signed_by_openssl(secret, message):
    with TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "key").write_bytes(bytes.fromhex("302e020100300506032b657004220420") + secret)    # RFC 8410
        (place / "message").write_bytes(message)
        command = ["openssl", "pkeyutl", "-sign", "-rawin", "-keyform", "DER", "-inkey", "key", "-in", "message"]
        return subprocess.run(command, cwd=folder, capture_output=True, check=True).stdout


if __name__ == "__main__":
    unittest.main()
