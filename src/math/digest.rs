//! SHA-256 by FIPS 180-4, and by it the digest of columns of numbers, which rests on the numbers and not on how a file writes them.

/// First 32 bits of the fractional parts of the cube roots of the first 64 primes.
const K: [u32; 64] = [
    0x428a_2f98,
    0x7137_4491,
    0xb5c0_fbcf,
    0xe9b5_dba5,
    0x3956_c25b,
    0x59f1_11f1,
    0x923f_82a4,
    0xab1c_5ed5,
    0xd807_aa98,
    0x1283_5b01,
    0x2431_85be,
    0x550c_7dc3,
    0x72be_5d74,
    0x80de_b1fe,
    0x9bdc_06a7,
    0xc19b_f174,
    0xe49b_69c1,
    0xefbe_4786,
    0x0fc1_9dc6,
    0x240c_a1cc,
    0x2de9_2c6f,
    0x4a74_84aa,
    0x5cb0_a9dc,
    0x76f9_88da,
    0x983e_5152,
    0xa831_c66d,
    0xb003_27c8,
    0xbf59_7fc7,
    0xc6e0_0bf3,
    0xd5a7_9147,
    0x06ca_6351,
    0x1429_2967,
    0x27b7_0a85,
    0x2e1b_2138,
    0x4d2c_6dfc,
    0x5338_0d13,
    0x650a_7354,
    0x766a_0abb,
    0x81c2_c92e,
    0x9272_2c85,
    0xa2bf_e8a1,
    0xa81a_664b,
    0xc24b_8b70,
    0xc76c_51a3,
    0xd192_e819,
    0xd699_0624,
    0xf40e_3585,
    0x106a_a070,
    0x19a4_c116,
    0x1e37_6c08,
    0x2748_774c,
    0x34b0_bcb5,
    0x391c_0cb3,
    0x4ed8_aa4a,
    0x5b9c_ca4f,
    0x682e_6ff3,
    0x748f_82ee,
    0x78a5_636f,
    0x84c8_7814,
    0x8cc7_0208,
    0x90be_fffa,
    0xa450_6ceb,
    0xbef9_a3f7,
    0xc671_78f2,
];
/// The same of the square roots of the first 8 primes.
const START: [u32; 8] =
    [0x6a09_e667, 0xbb67_ae85, 0x3c6e_f372, 0xa54f_f53a, 0x510e_527f, 0x9b05_688c, 0x1f83_d9ab, 0x5be0_cd19];

pub(crate) struct Sha256 {
    state: [u32; 8],
    block: [u8; 64],
    bytes: u64,
}

impl Sha256 {
    pub fn new() -> Self {
        Self { state: START, block: [0; 64], bytes: 0 }
    }

    pub fn update(&mut self, bytes: &[u8]) {
        for byte in bytes {
            let place = (self.bytes % 64) as usize;
            self.block[place] = *byte;
            self.bytes += 1;
            if place == 63 {
                self.compress();
            }
        }
    }

    /// 64 hexadecimal digits.
    pub fn hex(mut self) -> String {
        let bits = 8 * self.bytes;
        self.update(&[0x80]);
        while self.bytes % 64 != 56 {
            self.update(&[0]);
        }
        self.update(&bits.to_be_bytes());
        self.state.iter().map(|word| format!("{word:08x}")).collect()
    }

    fn compress(&mut self) {
        let mut w = [0_u32; 64];
        for (word, four) in w.iter_mut().zip(self.block.as_chunks::<4>().0) {
            *word = u32::from_be_bytes(*four);
        }
        for t in 16..64 {
            let (x, y) = (w[t - 15], w[t - 2]);
            let small_0 = x.rotate_right(7) ^ x.rotate_right(18) ^ (x >> 3);
            let small_1 = y.rotate_right(17) ^ y.rotate_right(19) ^ (y >> 10);
            w[t] = w[t - 16].wrapping_add(small_0).wrapping_add(w[t - 7]).wrapping_add(small_1);
        }
        let [mut a, mut b, mut c, mut d, mut e, mut f, mut g, mut h] = self.state;
        for (w, k) in w.iter().zip(&K) {
            let big_1 = e.rotate_right(6) ^ e.rotate_right(11) ^ e.rotate_right(25);
            let choice = (e & f) ^ (!e & g);
            let first = h.wrapping_add(big_1).wrapping_add(choice).wrapping_add(*k).wrapping_add(*w);
            let big_0 = a.rotate_right(2) ^ a.rotate_right(13) ^ a.rotate_right(22);
            let majority = (a & b) ^ (a & c) ^ (b & c);
            (h, g, f, e, d, c, b) = (g, f, e, d.wrapping_add(first), c, b, a);
            a = first.wrapping_add(big_0).wrapping_add(majority);
        }
        for (state, word) in self.state.iter_mut().zip([a, b, c, d, e, f, g, h]) {
            *state = state.wrapping_add(word);
        }
    }
}

/// Digest of columns by name: of each its name, a line feed, and its values as IEEE 754 doubles, the least significant byte first; a
/// negative zero as zero, any missing value as `0x7ff8_0000_0000_0000`.
pub(crate) fn of_columns<'a>(columns: impl IntoIterator<Item = (&'a str, &'a [f64])>) -> String {
    let mut found = Sha256::new();
    for (name, values) in columns {
        found.update(name.as_bytes());
        found.update(b"\n");
        for value in values {
            let bits = if value.is_nan() { 0x7ff8_0000_0000_0000 } else { (value + 0.0).to_bits() };
            found.update(&bits.to_le_bytes());
        }
    }
    found.hex()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(text: &[u8]) -> String {
        let mut found = Sha256::new();
        found.update(text);
        found.hex()
    }

    /// NIST, "Cryptographic Standards and Guidelines: Examples with Intermediate Values", SHA-256: one block, two blocks; and a million times `a`, of FIPS 180-2, B.3.
    #[test]
    fn digests_are_those_of_the_standard() {
        assert_eq!(hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        let two = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
        assert_eq!(hex(two), "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
        let many = vec![b'a'; 1_000_000];
        assert_eq!(hex(&many), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    }

    #[test]
    fn missing_values_have_one_digest_and_a_negative_zero_is_zero() {
        let of = |values: &[f64]| of_columns([("time_s", values)]);
        assert_eq!(of(&[-0.0, f64::from_bits(0xfff8_0000_0000_0001)]), of(&[0.0, f64::NAN]));
        assert_ne!(of(&[0.0, 1.0]), of(&[0.0, 1.0_f64.next_up()]));
    }
}
