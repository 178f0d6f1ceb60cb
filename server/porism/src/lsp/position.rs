//! Where an LSP position is in a text: byte offset to line and character, and back, in the
//! position encoding that client and server agreed on.
//!
//! Inside, offsets are UTF-8 bytes. Lines end at LF, CRLF or CR, as the specification says
//! (LSP 3.17, "Text Documents"), and the character is counted in code units of the encoding.

use std::ops::Range as ByteRange;

use ropey::Rope;
use tower_lsp::lsp_types::{Position, PositionEncodingKind, Range};

/// How the characters of a line are counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Encoding {
    /// Bytes of UTF-8.
    Utf8,
    /// Code units of UTF-16: what every client understands.
    #[default]
    Utf16,
    /// Code points.
    Utf32,
}

impl Encoding {
    /// Chooses among the encodings a client offers in `general.positionEncodings`: UTF-8, which
    /// is what the text is stored in, else UTF-16, the one that needs no offer. UTF-32 only if a
    /// client offers nothing else.
    pub(crate) fn negotiate(offered: Option<&[PositionEncodingKind]>) -> Self {
        let offered = offered.unwrap_or_default();
        if offered.contains(&PositionEncodingKind::UTF8) {
            Self::Utf8
        } else if offered.contains(&PositionEncodingKind::UTF16)
            || !offered.contains(&PositionEncodingKind::UTF32)
        {
            Self::Utf16
        } else {
            Self::Utf32
        }
    }

    /// The name of the encoding in the protocol.
    pub(crate) fn kind(self) -> PositionEncodingKind {
        match self {
            Self::Utf8 => PositionEncodingKind::UTF8,
            Self::Utf16 => PositionEncodingKind::UTF16,
            Self::Utf32 => PositionEncodingKind::UTF32,
        }
    }
}

/// The byte offset of a position. A character past the end of its line is the line's end, before
/// the line break; a line past the last is the end of the text; a position inside a code point is
/// the code point's start.
pub(crate) fn offset(text: &Rope, position: Position, encoding: Encoding) -> usize {
    let line = position.line as usize;
    if line >= text.len_lines() {
        return text.len_bytes();
    }
    let character = position.character as usize;
    let line_start = text.line_to_char(line);
    let line_end = line_content_end(text, line);
    let char_index = match encoding {
        Encoding::Utf8 => {
            let bytes = text.char_to_byte(line_start)..=text.char_to_byte(line_end);
            return floor(
                text,
                bytes.start().saturating_add(character).min(*bytes.end()),
            );
        }
        Encoding::Utf16 => {
            let units = text.char_to_utf16_cu(line_start).saturating_add(character);
            text.utf16_cu_to_char(units.min(text.char_to_utf16_cu(line_end)))
        }
        Encoding::Utf32 => line_start.saturating_add(character).min(line_end),
    };
    text.char_to_byte(char_index)
}

/// The position of a byte offset. An offset past the end is the end of the text; one inside a
/// code point is the code point's start; one between CR and LF is the line's end.
pub(crate) fn position(text: &Rope, offset: usize, encoding: Encoding) -> Position {
    let offset = content_floor(text, offset.min(text.len_bytes()));
    let line = text.byte_to_line(offset);
    let start = text.line_to_byte(line);
    let before = text.byte_slice(start..offset).chunks();
    let character: usize = match encoding {
        Encoding::Utf8 => offset - start,
        Encoding::Utf16 => before
            .map(|chunk| chunk.chars().map(char::len_utf16).sum::<usize>())
            .sum(),
        Encoding::Utf32 => before.map(|chunk| chunk.chars().count()).sum(),
    };
    // Files over 16 MiB are refused, and so are edits that make one: both numbers fit.
    Position::new(line as u32, character as u32)
}

/// The start of the code point that the byte at `offset` belongs to; of a CRLF, its start.
fn content_floor(text: &Rope, offset: usize) -> usize {
    let (chunk, chunk_start, ..) = text.chunk_at_byte(offset);
    let mut inside = offset - chunk_start;
    while !chunk.is_char_boundary(inside) {
        inside -= 1;
    }
    let floor = chunk_start + inside;
    let is_break_of_two = chunk.as_bytes().get(inside) == Some(&b'\n')
        && floor
            .checked_sub(1)
            .is_some_and(|before| text.byte(before) == b'\r');
    if is_break_of_two { floor - 1 } else { floor }
}

/// The bytes of a range. A range whose end stands before its start is read the other way round.
pub(crate) fn byte_range(text: &Rope, range: Range, encoding: Encoding) -> ByteRange<usize> {
    let (a, b) = (
        offset(text, range.start, encoding),
        offset(text, range.end, encoding),
    );
    a.min(b)..a.max(b)
}

/// The range of some bytes.
pub(crate) fn range(text: &Rope, bytes: ByteRange<usize>, encoding: Encoding) -> Range {
    Range::new(
        position(text, bytes.start, encoding),
        position(text, bytes.end, encoding),
    )
}

/// The start of the code point that the byte at `offset` belongs to.
fn floor(text: &Rope, offset: usize) -> usize {
    text.char_to_byte(text.byte_to_char(offset))
}

/// The character index of a line's end, before its line break.
fn line_content_end(text: &Rope, line: usize) -> usize {
    if line + 1 >= text.len_lines() {
        return text.len_chars();
    }
    let next = text.line_to_char(line + 1);
    let start = text.line_to_char(line);
    let crlf = next >= start + 2 && text.char(next - 1) == '\n' && text.char(next - 2) == '\r';
    if crlf { next - 2 } else { next - 1 }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const ALL: [Encoding; 3] = [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32];

    /// Code units of one character.
    fn units(c: char, encoding: Encoding) -> usize {
        match encoding {
            Encoding::Utf8 => c.len_utf8(),
            Encoding::Utf16 => c.len_utf16(),
            Encoding::Utf32 => 1,
        }
    }

    /// The lines of a text by the words of the specification: start and end of each line's
    /// content in bytes.
    fn naive_lines(text: &str) -> Vec<(usize, usize)> {
        let mut lines = Vec::new();
        let mut start = 0;
        let mut bytes = text.bytes().enumerate().peekable();
        while let Some((i, byte)) = bytes.next() {
            let next = match byte {
                b'\n' => i + 1,
                b'\r' if bytes.peek().is_some_and(|&(_, b)| b == b'\n') => {
                    bytes.next();
                    i + 2
                }
                b'\r' => i + 1,
                _ => continue,
            };
            lines.push((start, i));
            start = next;
        }
        lines.push((start, text.len()));
        lines
    }

    fn naive_offset(text: &str, position: Position, encoding: Encoding) -> usize {
        let lines = naive_lines(text);
        let Some(&(start, end)) = lines.get(position.line as usize) else {
            return text.len();
        };
        let mut left = position.character as usize;
        for (i, c) in text[start..end].char_indices() {
            if left < units(c, encoding) {
                return start + i;
            }
            left -= units(c, encoding);
        }
        end
    }

    fn naive_position(text: &str, offset: usize, encoding: Encoding) -> Position {
        let mut offset = offset.min(text.len());
        while !text.is_char_boundary(offset) {
            offset -= 1;
        }
        let lines = naive_lines(text);
        let line = lines
            .iter()
            .rposition(|&(start, _)| start <= offset)
            .unwrap();
        let (start, end) = lines[line];
        let character: usize = text[start..offset.min(end)]
            .chars()
            .map(|c| units(c, encoding))
            .sum();
        Position::new(line as u32, character as u32)
    }

    /// Puts `|` where the position is.
    fn check(text: &str, line: u32, character: u32, encoding: Encoding, expected: &str) {
        let at = offset(
            &Rope::from_str(text),
            Position::new(line, character),
            encoding,
        );
        assert_eq!(format!("{}|{}", &text[..at], &text[at..]), expected);
    }

    #[test]
    fn characters_are_counted_in_the_agreed_units() {
        check("a𝔾b\nc", 0, 2, Encoding::Utf32, "a𝔾|b\nc");
        check("a𝔾b\nc", 0, 3, Encoding::Utf16, "a𝔾|b\nc");
        check("a𝔾b\nc", 0, 5, Encoding::Utf8, "a𝔾|b\nc");
    }

    #[test]
    fn a_position_inside_a_code_point_is_its_start() {
        check("a𝔾b", 0, 2, Encoding::Utf16, "a|𝔾b");
        check("a𝔾b", 0, 3, Encoding::Utf8, "a|𝔾b");
    }

    #[test]
    fn a_position_past_the_end_is_the_end() {
        check("ab\r\ncd", 0, 99, Encoding::Utf16, "ab|\r\ncd");
        check("ab\rcd", 0, u32::MAX, Encoding::Utf8, "ab|\rcd");
        check("ab\n", 1, 7, Encoding::Utf32, "ab\n|");
        check("ab", 9, 0, Encoding::Utf16, "ab|");
        check("", u32::MAX, u32::MAX, Encoding::Utf16, "|");
    }

    #[test]
    fn a_range_the_wrong_way_round_is_turned() {
        let text = Rope::from_str("abcdef");
        let range = Range::new(Position::new(0, 4), Position::new(0, 1));
        assert_eq!(byte_range(&text, range, Encoding::Utf16), 1..4);
    }

    #[test]
    fn utf8_is_preferred_and_utf16_needs_no_offer() {
        let [utf8, utf16, utf32] = ALL.map(Encoding::kind);
        let of = |offered: &[PositionEncodingKind]| Encoding::negotiate(Some(offered));
        assert_eq!(Encoding::negotiate(None), Encoding::Utf16);
        assert_eq!(of(&[]), Encoding::Utf16);
        assert_eq!(of(&[utf32.clone(), utf8, utf16.clone()]), Encoding::Utf8);
        assert_eq!(of(&[utf32.clone(), utf16]), Encoding::Utf16);
        assert_eq!(of(&[utf32]), Encoding::Utf32);
        assert_eq!(of(&[PositionEncodingKind::new("utf-7")]), Encoding::Utf16);
    }

    proptest! {
        #[test]
        fn offsets_are_those_of_the_specification(
            text in "[a\\r\\n\u{e9}\u{2028}\u{85}𝔾]{0,40}",
            line in 0..12u32,
            character in 0..30u32,
        ) {
            let rope = Rope::from_str(&text);
            for encoding in ALL {
                let position = Position::new(line, character);
                prop_assert_eq!(
                    offset(&rope, position, encoding),
                    naive_offset(&text, position, encoding)
                );
            }
        }

        #[test]
        fn positions_are_those_of_the_specification(
            text in "[a\\r\\n\u{e9}\u{2028}\u{85}𝔾]{0,40}",
            at in 0..120usize,
        ) {
            let rope = Rope::from_str(&text);
            for encoding in ALL {
                prop_assert_eq!(
                    position(&rope, at, encoding),
                    naive_position(&text, at, encoding)
                );
            }
        }

        #[test]
        fn a_position_comes_back_from_its_offset(
            text in "[a\\r\\n\u{e9}𝔾]{0,40}",
            at in 0..120usize,
        ) {
            let rope = Rope::from_str(&text);
            for encoding in ALL {
                let there = position(&rope, at, encoding);
                let back = offset(&rope, there, encoding);
                prop_assert_eq!(position(&rope, back, encoding), there);
            }
        }
    }
}
