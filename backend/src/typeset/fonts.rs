//! The two families of the pages, unpacked once: the files themselves stay as they came.

use std::sync::OnceLock;

use typst::foundations::Bytes;

const FILES: [&[u8]; 2] = [
    include_bytes!("../../assets/source-serif-4-latin-wght-normal.woff2"),
    include_bytes!("../../assets/source-sans-3-latin-wght-normal.woff2"),
];

/// Both families. A file that cannot be unpacked is left out: a test holds that none is.
pub(super) fn both() -> Vec<Bytes> {
    static UNPACKED: OnceLock<Vec<Bytes>> = OnceLock::new();
    let unpack =
        || FILES.iter().filter_map(|file| wuff::decompress_woff2(file).ok()).map(Bytes::new).collect();
    UNPACKED.get_or_init(unpack).clone()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_families_can_be_unpacked() {
        assert_eq!(both().len(), FILES.len());
    }
}
