//! ZIP archives made from nothing, truthful or not.

/// A ZIP part: name, packed bytes, how it is packed, and the size it claims to unpack to.
pub struct Part<'a> {
    pub name: &'a str,
    pub packed: Vec<u8>,
    pub deflated: bool,
    pub claimed: u32,
    pub checksum: u32,
}

/// The checksum of ZIP files (CRC-32, ISO 3309).
pub fn checksum(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, b| {
        (0..8).fold(crc ^ u32::from(*b), |c, _| {
            (c >> 1) ^ (0xEDB8_8320 & 0_u32.wrapping_sub(c & 1))
        })
    })
}

/// A part that is stored as it is.
pub fn stored<'a>(name: &'a str, bytes: &[u8]) -> Part<'a> {
    Part {
        name,
        packed: bytes.to_vec(),
        deflated: false,
        claimed: bytes.len() as u32,
        checksum: checksum(bytes),
    }
}

/// The archive of these parts, whatever they claim.
pub fn zip(parts: &[Part]) -> Vec<u8> {
    let (mut all, mut directory) = (Vec::new(), Vec::new());
    for part in parts {
        let mut common = vec![
            20,
            0,
            0,
            0,
            if part.deflated { 8 } else { 0 },
            0,
            0,
            0,
            0x21,
            0,
        ];
        for n in [part.checksum, part.packed.len() as u32, part.claimed] {
            common.extend(n.to_le_bytes());
        }
        common.extend((part.name.len() as u16).to_le_bytes());
        common.extend([0, 0]);
        directory.extend(b"PK\x01\x02\x14\x00");
        directory.extend(&common);
        directory.extend([0; 10]);
        directory.extend((all.len() as u32).to_le_bytes());
        directory.extend(part.name.as_bytes());
        all.extend(b"PK\x03\x04");
        all.extend(&common);
        all.extend(part.name.as_bytes());
        all.extend(&part.packed);
    }
    let count = (parts.len() as u16).to_le_bytes();
    let (size, start) = (directory.len() as u32, all.len() as u32);
    all.extend(directory);
    all.extend(b"PK\x05\x06\0\0\0\0");
    all.extend([count, count].concat());
    all.extend([size.to_le_bytes(), start.to_le_bytes()].concat());
    all.extend([0, 0]);
    all
}
