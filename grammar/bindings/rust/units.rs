//! Where do the units of a text start?
//!
//! The answer needs no parse: a unit starts at a line that is not blank and not
//! indented. Two kinds of line are exceptions: one inside display math that a line
//! of prose has opened, and a comment directly below a line of a block. All of it
//! is decided from left to right, so a scan may start at any unit.

use memchr::{memchr2, memchr3};

const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";
const MAX_HEADING_LEVEL: usize = 6;

/// The byte offsets at which the units of `text` start, in ascending order.
///
/// The first is 0, whatever the text: the first unit also owns the byte order mark
/// and the blank lines in front of it. Each unit ends where the next one starts, so
/// blank lines belong to the unit above them. Every further offset is the start of
/// a child of the root of the syntax tree.
pub fn unit_starts(text: &[u8]) -> Vec<usize> {
    let mut starts = vec![0];
    let mut from = 0;
    while let Some(start) = next_unit_start(|byte| &text[byte..], from) {
        starts.push(start);
        from = start;
    }
    starts
}

/// The start of the unit after the one that starts at byte `from`, or `None` when
/// that is the last one.
///
/// `chunk_at` gives a chunk of the text that begins at the given byte offset, which is
/// at most the length of the text, and an empty one only at the end of the text. This
/// is the shape of a parser's callback, so a rope's chunks serve as they are.
pub fn next_unit_start<'text>(
    chunk_at: impl FnMut(usize) -> &'text [u8],
    from: usize,
) -> Option<usize> {
    let mut cursor = Cursor::new(chunk_at, from);
    let is_block = skip_first_line(&mut cursor);
    next_start(&mut cursor, is_block)
}

/// A position in a text that comes in chunks.
struct Cursor<'text, F> {
    chunk_at: F,
    chunk: &'text [u8],
    /// The offset of the chunk in the text.
    base: usize,
    /// The offset in the chunk.
    offset: usize,
}

impl<'text, F: FnMut(usize) -> &'text [u8]> Cursor<'text, F> {
    fn new(mut chunk_at: F, position: usize) -> Self {
        let chunk = chunk_at(position);
        Cursor {
            chunk_at,
            chunk,
            base: position,
            offset: 0,
        }
    }

    fn position(&self) -> usize {
        self.base + self.offset
    }

    fn go_to(&mut self, position: usize) {
        if position >= self.base && position - self.base < self.chunk.len() {
            self.offset = position - self.base;
        } else {
            self.chunk = (self.chunk_at)(position);
            self.base = position;
            self.offset = 0;
        }
    }

    /// The byte at the position, `None` at the end of the text.
    #[inline]
    fn peek(&mut self) -> Option<u8> {
        if self.offset == self.chunk.len() && !self.chunk.is_empty() {
            self.go_to(self.base + self.offset);
        }
        self.chunk.get(self.offset).copied()
    }

    /// Moves over the byte that `peek` has shown.
    #[inline]
    fn bump(&mut self) {
        debug_assert!(self.offset < self.chunk.len());
        self.offset += 1;
    }

    /// Moves to the next byte that `find` accepts, or to the end of the text.
    #[inline]
    fn skip_to(&mut self, find: impl Fn(&[u8]) -> Option<usize>) {
        while self.peek().is_some() {
            match find(&self.chunk[self.offset..]) {
                Some(distance) => {
                    self.offset += distance;
                    return;
                }
                None => self.offset = self.chunk.len(),
            }
        }
    }

    fn skip_while(&mut self, is_skipped: impl Fn(u8) -> bool) {
        while self.peek().is_some_and(&is_skipped) {
            self.bump();
        }
    }

    fn at_white_space(&mut self) -> bool {
        self.peek()
            .is_none_or(|byte| is_blank(byte) || is_eol(byte))
    }

    fn at_eol(&mut self) -> bool {
        self.peek().is_none_or(is_eol)
    }

    fn at_digit(&mut self) -> bool {
        self.peek().is_some_and(|byte| byte.is_ascii_digit())
    }

    fn skip_line_content(&mut self) {
        self.skip_to(|bytes| memchr2(b'\n', b'\r', bytes));
    }

    /// Moves over one end of line; false at any other byte.
    fn skip_eol(&mut self) -> bool {
        match self.peek() {
            Some(b'\n') => self.bump(),
            Some(b'\r') => {
                self.bump();
                if self.peek() == Some(b'\n') {
                    self.bump();
                }
            }
            _ => return false,
        }
        true
    }

    /// Moves over spaces and tabs; true when there are any.
    fn skip_blanks(&mut self) -> bool {
        let start = self.position();
        self.skip_while(is_blank);
        self.position() > start
    }
}

fn is_blank(byte: u8) -> bool {
    byte == b' ' || byte == b'\t'
}

fn is_eol(byte: u8) -> bool {
    byte == b'\n' || byte == b'\r'
}

/// Moves to the end of the line that opens a unit, and tells whether it is a header.
fn skip_first_line<'text, F>(cursor: &mut Cursor<'text, F>) -> bool
where
    F: FnMut(usize) -> &'text [u8],
{
    if cursor.position() == 0 {
        let has_mark = BYTE_ORDER_MARK.iter().all(|&byte| {
            let is_next = cursor.peek() == Some(byte);
            if is_next {
                cursor.bump();
            }
            is_next
        });
        if !has_mark {
            cursor.go_to(0);
        }
        // Lead blank lines. A first line that is indented is prose.
        while cursor.at_white_space() && cursor.peek().is_some() {
            let is_indented = cursor.skip_blanks();
            if !cursor.skip_eol() && is_indented {
                cursor.skip_line_content();
                return false;
            }
        }
    }
    match cursor.peek() {
        Some(b'@') => {
            cursor.skip_line_content();
            true
        }
        Some(b'%') => {
            cursor.skip_line_content();
            false
        }
        Some(b'#') => {
            let start = cursor.position();
            cursor.skip_while(|byte| byte == b'#');
            let level = cursor.position() - start;
            if level <= MAX_HEADING_LEVEL && cursor.at_white_space() {
                cursor.skip_line_content();
            } else {
                skip_prose_line(cursor);
            }
            false
        }
        _ => {
            skip_prose_line(cursor);
            false
        }
    }
}

/// From the end of a line of a unit to the start of the next unit.
fn next_start<'text, F>(cursor: &mut Cursor<'text, F>, is_block: bool) -> Option<usize>
where
    F: FnMut(usize) -> &'text [u8],
{
    let mut is_below_blank = false;
    while cursor.skip_eol() {
        let start = cursor.position();
        let is_indented = cursor.skip_blanks();
        match cursor.peek() {
            None => return None,
            Some(byte) if is_eol(byte) => {
                is_below_blank = true;
                continue;
            }
            Some(b'%') if is_block && !is_below_blank => {}
            Some(_) if is_indented => {}
            Some(_) => return Some(start),
        }
        is_below_blank = false;
        cursor.skip_line_content();
    }
    None
}

/// From within a line of prose to its end. Display math may take it over the
/// following lines.
fn skip_prose_line<'text, F>(cursor: &mut Cursor<'text, F>)
where
    F: FnMut(usize) -> &'text [u8],
{
    // Only `$$` makes a difference.
    let start = cursor.position();
    loop {
        cursor.skip_to(|bytes| memchr3(b'\n', b'\r', b'$', bytes));
        if cursor.peek() != Some(b'$') {
            return;
        }
        cursor.bump();
        if cursor.peek() == Some(b'$') {
            break;
        }
    }
    cursor.go_to(start);
    while let Some(byte) = cursor.peek() {
        match byte {
            b'\n' | b'\r' => return,
            b' ' | b'\t' => {
                cursor.skip_blanks();
                if cursor.peek() == Some(b'%') {
                    cursor.skip_while(|byte| byte == b'%');
                    if cursor.at_white_space() {
                        cursor.skip_line_content();
                    }
                }
            }
            b'\\' => {
                cursor.bump();
                if matches!(cursor.peek(), Some(b'$' | b'@' | b'%' | b'#')) {
                    cursor.bump();
                }
            }
            b'$' => {
                cursor.bump();
                if cursor.peek() == Some(b'$') {
                    cursor.bump();
                    skip_display_math(cursor);
                } else {
                    skip_inline_math(cursor);
                }
            }
            _ => cursor.bump(),
        }
    }
}

/// From behind `$$` to behind the closing one, or to the end of the paragraph.
fn skip_display_math<'text, F>(cursor: &mut Cursor<'text, F>)
where
    F: FnMut(usize) -> &'text [u8],
{
    while let Some(byte) = cursor.peek() {
        match byte {
            b'\n' | b'\r' => {
                let end = cursor.position();
                cursor.skip_eol();
                let is_indented = cursor.skip_blanks();
                let ends_here = match cursor.peek() {
                    None => true,
                    Some(b'@' | b'#') => !is_indented,
                    Some(byte) => is_eol(byte),
                };
                if ends_here {
                    cursor.go_to(end);
                    return;
                }
            }
            b'\\' => {
                cursor.bump();
                if !cursor.at_eol() {
                    cursor.bump();
                }
            }
            b'$' => {
                cursor.bump();
                if cursor.peek() == Some(b'$') {
                    cursor.bump();
                    return;
                }
            }
            _ => cursor.bump(),
        }
    }
}

/// From behind `$` to behind the math it opens; to the end of the line when that is
/// not closed; nowhere when the sign belongs to an amount of money.
fn skip_inline_math<'text, F>(cursor: &mut Cursor<'text, F>)
where
    F: FnMut(usize) -> &'text [u8],
{
    let start = cursor.position();
    let has_digit = cursor.at_digit();
    let is_amount = has_digit && skip_amount(cursor);
    let mut before = None;
    while !cursor.at_eol() && cursor.peek() != Some(b'$') {
        if cursor.peek() == Some(b'\\') {
            cursor.bump();
            if cursor.at_eol() {
                break;
            }
        }
        before = cursor.peek();
        cursor.bump();
    }
    let mut is_closed = cursor.peek() == Some(b'$');
    if is_closed {
        cursor.bump();
        let is_behind_blank = before.is_some_and(is_blank);
        is_closed = !(is_amount && is_behind_blank || has_digit && cursor.at_digit());
    }
    if is_closed {
        return;
    }
    if is_amount {
        cursor.go_to(start);
    } else {
        cursor.skip_line_content();
    }
}

/// Moves over an amount of money and tells whether it may stand as one.
fn skip_amount<'text, F>(cursor: &mut Cursor<'text, F>) -> bool
where
    F: FnMut(usize) -> &'text [u8],
{
    let mut has_point = false;
    while cursor.at_digit() {
        cursor.skip_while(|byte| byte.is_ascii_digit());
        if has_point || !matches!(cursor.peek(), Some(b',' | b'.')) {
            continue;
        }
        has_point = cursor.peek() == Some(b'.');
        cursor.bump();
        if !cursor.at_digit() {
            return true;
        }
    }
    if cursor.at_white_space() {
        return true;
    }
    let Some(byte) = cursor.peek() else {
        return true;
    };
    if matches!(
        byte,
        b'.' | b',' | b';' | b':' | b'!' | b'?' | b')' | b']' | b'"' | b'\'' | b'/' | b'-'
    ) {
        return true;
    }
    // En dash, em dash, closing quotation marks and the ellipsis, in UTF-8.
    let position = cursor.position();
    let mut is_mark = false;
    if byte == 0xe2 {
        cursor.bump();
        if cursor.peek() == Some(0x80) {
            cursor.bump();
            is_mark = matches!(cursor.peek(), Some(0x93 | 0x94 | 0x99 | 0x9d | 0xa6));
        }
        cursor.go_to(position);
    }
    is_mark
}
