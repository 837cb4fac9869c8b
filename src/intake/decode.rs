//! Bytes to text: byte-order marks, UTF-8, UTF-16 and Windows-1252, as spreadsheets write them.

use encoding_rs::{Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// How many bytes are looked at to tell UTF-16 without a mark.
const LOOKED_AT: usize = 4096;

/// A file's text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Decoded {
    pub text: String,
    /// Line from 1 at which another encoding begins than that of the lines before, if one does.
    pub mixed_from: Option<u64>,
}

/// Decodes a file. Never fails: a byte that stands for nothing becomes U+FFFD.
pub(super) fn decode(bytes: Vec<u8>) -> Decoded {
    if let Some((encoding, mark)) = Encoding::for_bom(&bytes)
        && encoding != encoding_rs::UTF_8
    {
        return sixteen_bit(encoding, &bytes[mark..]);
    }
    match unmarked_utf16(&bytes) {
        Some(encoding) => sixteen_bit(encoding, &bytes),
        None => eight_bit(bytes),
    }
}

fn sixteen_bit(encoding: &'static Encoding, bytes: &[u8]) -> Decoded {
    let (text, _) = encoding.decode_without_bom_handling(bytes);
    Decoded { text: text.into_owned(), mixed_from: None }
}

/// UTF-16 without a mark shows as zeros in nearly every other byte.
fn unmarked_utf16(bytes: &[u8]) -> Option<&'static Encoding> {
    let looked_at = &bytes[..bytes.len().min(LOOKED_AT)];
    let zeros = |parity: usize| looked_at.iter().skip(parity).step_by(2).filter(|b| **b == 0).count();
    let nearly_all = |n: usize| n * 10 > looked_at.len() / 2 * 8 && n > 2;
    match (nearly_all(zeros(0)), nearly_all(zeros(1))) {
        (false, true) => Some(UTF_16LE),
        (true, false) => Some(UTF_16BE),
        _ => None,
    }
}

fn eight_bit(bytes: Vec<u8>) -> Decoded {
    let mut decoded = match String::from_utf8(bytes) {
        Ok(text) => Decoded { text, mixed_from: None },
        Err(not_utf8) => line_by_line(not_utf8.as_bytes()),
    };
    if decoded.text.starts_with('\u{FEFF}') {
        decoded.text.drain(..'\u{FEFF}'.len_utf8());
    }
    decoded
}

/// Each line as UTF-8 if it is that, else as Windows-1252, since files get stuck together from several programs.
fn line_by_line(bytes: &[u8]) -> Decoded {
    let mut decoded = Decoded { text: String::with_capacity(bytes.len() + bytes.len() / 8), mixed_from: None };
    let mut first_is_utf8 = None;
    for (number, line) in (1..).zip(bytes.split_inclusive(|b| *b == b'\n')) {
        let utf8 = std::str::from_utf8(line);
        match utf8 {
            Ok(text) => decoded.text.push_str(text),
            Err(_) => decoded.text.push_str(&WINDOWS_1252.decode_without_bom_handling(line).0),
        }
        if !line.is_ascii() && *first_is_utf8.get_or_insert(utf8.is_ok()) != utf8.is_ok() {
            decoded.mixed_from.get_or_insert(number);
        }
    }
    decoded
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text_of(bytes: &[u8]) -> String {
        decode(bytes.to_vec()).text
    }

    #[test]
    fn umlauts_survive_every_encoding() {
        let want = "row;note\n1;Blüte\n";
        let wide = |order: fn(u16) -> [u8; 2]| want.encode_utf16().flat_map(order).collect::<Vec<u8>>();
        assert_eq!(text_of(want.as_bytes()), want);
        assert_eq!(text_of(&[b"\xEF\xBB\xBF", want.as_bytes()].concat()), want);
        assert_eq!(text_of(b"row;note\n1;Bl\xFCte\n"), want);
        assert_eq!(text_of(&[b"\xFF\xFE".to_vec(), wide(u16::to_le_bytes)].concat()), want);
        assert_eq!(text_of(&[b"\xFE\xFF".to_vec(), wide(u16::to_be_bytes)].concat()), want);
        assert_eq!(text_of(&wide(u16::to_le_bytes)), want);
        assert_eq!(text_of(&wide(u16::to_be_bytes)), want);
    }

    #[test]
    fn a_second_encoding_is_noticed_at_its_line() {
        let decoded = decode([b"a\n", "ü\n".as_bytes(), b"\xFC\n"].concat());
        assert_eq!(decoded, Decoded { text: "a\nü\nü\n".into(), mixed_from: Some(3) });
        assert_eq!(decode(b"a\n\xFC\nb\n\xE4\n".to_vec()).mixed_from, None);
    }
}
