// The tokens whose shape depends on what follows them. The scanner keeps no
// state: what it decides depends on the text from the token on and on nothing
// before it, so a parse can start at any line in column 0.
//
// `mark_end` fixes the end of the token; whatever is read after it is lookahead.

#include "tree_sitter/parser.h"

// In the order of `externals` in grammar.js.
enum TokenType {
  START_BLANK,
  START_INDENTATION,
  NEWLINE,
  NEWLINE_COMMENT,
  NEWLINE_INDENTED,
  NEWLINE_A,
  NEWLINE_B,
  NEWLINE_C,
  NEWLINE_D,
  SPACE,
  COMMENT_SPACE,
  HEADING_MARKER,
  KEY,
  COMMENT,
  NUL,
  MATH_OPEN,
  MATH_TEX,
  UNCLOSED_MATH_OPEN,
  AMOUNT_SIGN,
  DISPLAY_OPEN,
  UNCLOSED_DISPLAY_OPEN_LINE,
  UNCLOSED_DISPLAY_OPEN_BODY,
  UNCLOSED_DISPLAY_OPEN_FLOW,
  DISPLAY_TEX,
  UNCLOSED_TEX,
  UNCLOSED_FLOW_TEX,
  ERROR_SENTINEL,
};

enum { TAB_STOP = 4, MAX_KEY_WORDS = 3, MAX_HEADING_LEVEL = 6 };

// How far display math may look for its closing `$$`.
typedef enum { EXTENT_LINE, EXTENT_BODY, EXTENT_FLOW } Extent;

static inline void advance(TSLexer *lexer) { lexer->advance(lexer, false); }

static inline bool at_end(TSLexer *lexer) { return lexer->eof(lexer); }

static inline bool at_eol(TSLexer *lexer) {
  return lexer->lookahead == '\n' || lexer->lookahead == '\r';
}

static inline bool at_blank(TSLexer *lexer) {
  return lexer->lookahead == ' ' || lexer->lookahead == '\t';
}

static inline bool at_white_space(TSLexer *lexer) {
  return at_blank(lexer) || at_eol(lexer) || at_end(lexer);
}

static inline bool at_digit(TSLexer *lexer) {
  return lexer->lookahead >= '0' && lexer->lookahead <= '9';
}

static inline bool at_lower(TSLexer *lexer) {
  return lexer->lookahead >= 'a' && lexer->lookahead <= 'z';
}

static bool finish(TSLexer *lexer, enum TokenType type) {
  lexer->result_symbol = type;
  return true;
}

static void advance_eol(TSLexer *lexer) {
  if (lexer->lookahead == '\r') {
    advance(lexer);
    if (lexer->lookahead == '\n') advance(lexer);
  } else {
    advance(lexer);
  }
}

// The columns that the blanks from here on fill, counted from column 0.
static unsigned advance_indentation(TSLexer *lexer) {
  unsigned column = 0;
  for (; at_blank(lexer); advance(lexer)) {
    column = lexer->lookahead == '\t' ? (column / TAB_STOP + 1) * TAB_STOP : column + 1;
  }
  return column;
}

// Stands at `%`: one or more of them and then white space start a comment when
// white space stands before them.
static bool at_trailing_comment(TSLexer *lexer) {
  if (lexer->lookahead != '%') return false;
  while (lexer->lookahead == '%') advance(lexer);
  return at_white_space(lexer);
}

static enum TokenType newline_of(unsigned column) {
  if (column < 4) return NEWLINE_A;
  if (column < 6) return NEWLINE_B;
  if (column < 8) return NEWLINE_C;
  return NEWLINE_D;
}

// White space that holds an end of line, up to the first column of the next line
// that is not blank, indentation included. `lines` ends of line are read already.
static bool scan_newline(TSLexer *lexer, const bool *valid, unsigned lines) {
  unsigned column = 0;
  while (at_eol(lexer)) {
    advance_eol(lexer);
    lines++;
    column = advance_indentation(lexer);
  }
  lexer->mark_end(lexer);
  bool is_blank = column == 0 || at_end(lexer);
  if (valid[START_BLANK]) return finish(lexer, is_blank ? START_BLANK : START_INDENTATION);
  if (is_blank) {
    bool is_comment_below = lines == 1 && lexer->lookahead == '%' && valid[NEWLINE_COMMENT];
    return finish(lexer, is_comment_below ? NEWLINE_COMMENT : NEWLINE);
  }
  return finish(lexer, valid[NEWLINE_INDENTED] ? NEWLINE_INDENTED : newline_of(column));
}

// What is left of a line of blanks: its end, or the end of the text.
static bool scan_end_of_line(TSLexer *lexer, const bool *valid, unsigned lines) {
  if (lines > 0 || at_eol(lexer)) return scan_newline(lexer, valid, lines);
  lexer->mark_end(lexer);
  return finish(lexer, valid[START_BLANK] ? START_BLANK : NEWLINE);
}

static bool scan_white_space(TSLexer *lexer, const bool *valid) {
  while (at_blank(lexer)) advance(lexer);
  if (at_white_space(lexer)) return scan_end_of_line(lexer, valid, 0);
  lexer->mark_end(lexer);
  if (valid[START_BLANK]) return finish(lexer, START_INDENTATION);
  return finish(lexer, at_trailing_comment(lexer) ? COMMENT_SPACE : SPACE);
}

static bool scan_heading_marker(TSLexer *lexer) {
  unsigned level = 0;
  for (; lexer->lookahead == '#'; level++) advance(lexer);
  lexer->mark_end(lexer);
  return level <= MAX_HEADING_LEVEL && at_white_space(lexer) && finish(lexer, HEADING_MARKER);
}

// Reads lower-case words with one space between them, directly before `:` and white
// space. The first has at least two letters, as `f: A \to B` is mathematics. Each
// word is marked as the end of the token.
static bool at_key(TSLexer *lexer, bool is_token) {
  for (unsigned words = 0; words < MAX_KEY_WORDS && at_lower(lexer); words++) {
    unsigned letters = 0;
    for (; at_lower(lexer); letters++) advance(lexer);
    if (words == 0 && letters < 2) return false;
    if (is_token) lexer->mark_end(lexer);
    if (lexer->lookahead == ':') {
      advance(lexer);
      return at_white_space(lexer);
    }
    if (lexer->lookahead != ' ') return false;
    advance(lexer);
  }
  return false;
}

static bool scan_key(TSLexer *lexer) { return at_key(lexer, true) && finish(lexer, KEY); }

static bool scan_comment(TSLexer *lexer) {
  while (!at_eol(lexer) && !at_end(lexer)) advance(lexer);
  lexer->mark_end(lexer);
  return finish(lexer, COMMENT);
}

static bool scan_nul(TSLexer *lexer) {
  advance(lexer);
  lexer->mark_end(lexer);
  return finish(lexer, NUL);
}

// Reads to the next `$` of the line that is not escaped. `before` is the
// character in front of it.
static bool find_dollar(TSLexer *lexer, int32_t *before) {
  while (!at_eol(lexer) && !at_end(lexer)) {
    if (lexer->lookahead == '$') return true;
    if (lexer->lookahead == '\\') {
      advance(lexer);
      if (at_eol(lexer) || at_end(lexer)) return false;
    }
    *before = lexer->lookahead;
    advance(lexer);
  }
  return false;
}

// Reads an amount of money after its sign: digits with groups of three and a
// decimal part. Tells whether what follows lets it stand as an amount.
static bool scan_amount(TSLexer *lexer, int32_t *last) {
  bool has_point = false;
  while (at_digit(lexer)) {
    *last = lexer->lookahead;
    advance(lexer);
    if ((lexer->lookahead == ',' || lexer->lookahead == '.') && !has_point) {
      has_point = lexer->lookahead == '.';
      *last = lexer->lookahead;
      advance(lexer);
      // The mark ends the amount unless a digit follows.
      if (!at_digit(lexer)) return true;
    }
  }
  if (at_white_space(lexer)) return true;
  switch (lexer->lookahead) {
    case '.': case ',': case ';': case ':': case '!': case '?':
    case ')': case ']': case '"': case '\'': case '/': case '-':
    case 0x2013: // en dash
    case 0x2014: // em dash
    case 0x2019: // right single quotation mark
    case 0x201D: // right double quotation mark
    case 0x2026: // ellipsis
      return true;
    default:
      return false;
  }
}

// Reads up to the closing `$$`; false when the extent ends before it. On indented
// lines a field ends it, so that `$$` just typed leaves the fields below alone.
static bool find_display_close(TSLexer *lexer, Extent extent) {
  while (!at_end(lexer)) {
    if (at_eol(lexer)) {
      if (extent == EXTENT_LINE) return false;
      advance_eol(lexer);
      unsigned column = advance_indentation(lexer);
      if (at_white_space(lexer)) return false;
      if (extent == EXTENT_BODY) {
        if (column == 0 || at_key(lexer, false)) return false;
        continue;
      }
      if (column > 0) continue;
      if (lexer->lookahead == '@' || lexer->lookahead == '#') return false;
      continue;
    }
    if (lexer->lookahead == '\\') {
      advance(lexer);
      if (!at_eol(lexer) && !at_end(lexer)) advance(lexer);
      continue;
    }
    bool is_dollar = lexer->lookahead == '$';
    advance(lexer);
    if (is_dollar && lexer->lookahead == '$') return true;
  }
  return false;
}

static bool scan_math_open(TSLexer *lexer, const bool *valid) {
  advance(lexer);
  if (lexer->lookahead == '$') {
    advance(lexer);
    lexer->mark_end(lexer);
    Extent extent = valid[UNCLOSED_DISPLAY_OPEN_FLOW]   ? EXTENT_FLOW
                    : valid[UNCLOSED_DISPLAY_OPEN_BODY] ? EXTENT_BODY
                                                        : EXTENT_LINE;
    if (find_display_close(lexer, extent)) return finish(lexer, DISPLAY_OPEN);
    return finish(lexer, extent == EXTENT_FLOW   ? UNCLOSED_DISPLAY_OPEN_FLOW
                         : extent == EXTENT_BODY ? UNCLOSED_DISPLAY_OPEN_BODY
                                                 : UNCLOSED_DISPLAY_OPEN_LINE);
  }
  lexer->mark_end(lexer);
  int32_t before = 0;
  bool has_digit = at_digit(lexer);
  bool is_amount = has_digit && scan_amount(lexer, &before);
  bool is_closed = find_dollar(lexer, &before);
  if (is_closed && is_amount && (before == ' ' || before == '\t')) is_closed = false;
  if (is_closed && has_digit) {
    advance(lexer);
    if (at_digit(lexer)) is_closed = false;
  }
  if (is_closed) return finish(lexer, MATH_OPEN);
  return finish(lexer, is_amount ? AMOUNT_SIGN : UNCLOSED_MATH_OPEN);
}

// The TeX of inline math, up to its closing `$`.
static bool scan_math_tex(TSLexer *lexer) {
  int32_t before;
  if (!find_dollar(lexer, &before)) return false;
  lexer->mark_end(lexer);
  return finish(lexer, MATH_TEX);
}

// The TeX of display math, up to its closing `$$`.
static bool scan_display_tex(TSLexer *lexer) {
  bool has_tex = false;
  while (!at_end(lexer)) {
    lexer->mark_end(lexer);
    int32_t character = lexer->lookahead;
    advance(lexer);
    if (character == '$' && lexer->lookahead == '$') {
      return has_tex && finish(lexer, DISPLAY_TEX);
    }
    if (character == '\\' && !at_eol(lexer) && !at_end(lexer)) advance(lexer);
    has_tex = true;
  }
  return false;
}

// The rest of a line behind math that is not closed, without the white space
// and the comment at its end. The white space alone when nothing else is there.
static bool scan_unclosed_tex(TSLexer *lexer, const bool *valid) {
  bool has_tex = false;
  while (!at_eol(lexer) && !at_end(lexer)) {
    if (at_blank(lexer)) {
      while (at_blank(lexer)) advance(lexer);
      if (lexer->lookahead != '%') continue;
      if (!has_tex) lexer->mark_end(lexer);
      if (at_trailing_comment(lexer)) {
        return finish(lexer, has_tex ? UNCLOSED_TEX : COMMENT_SPACE);
      }
    } else {
      advance(lexer);
    }
    lexer->mark_end(lexer);
    has_tex = true;
  }
  if (has_tex) return finish(lexer, UNCLOSED_TEX);
  return scan_end_of_line(lexer, valid, 0);
}

// The rest of a paragraph behind display math that is not closed, or the white
// space behind it when nothing else is there.
static bool scan_unclosed_flow_tex(TSLexer *lexer, const bool *valid) {
  bool has_tex = false;
  unsigned lines = 0;
  while (!at_end(lexer)) {
    if (at_eol(lexer)) {
      advance_eol(lexer);
      lines++;
      unsigned column = advance_indentation(lexer);
      if (at_white_space(lexer)) break;
      if (column == 0 && (lexer->lookahead == '@' || lexer->lookahead == '#')) break;
    } else if (at_blank(lexer)) {
      advance(lexer);
    } else {
      advance(lexer);
      lexer->mark_end(lexer);
      has_tex = true;
    }
  }
  if (has_tex) return finish(lexer, UNCLOSED_FLOW_TEX);
  return scan_end_of_line(lexer, valid, lines);
}

void *tree_sitter_porism_external_scanner_create(void) { return NULL; }

void tree_sitter_porism_external_scanner_destroy(void *payload) { (void)payload; }

unsigned tree_sitter_porism_external_scanner_serialize(void *payload, char *buffer) {
  (void)payload;
  (void)buffer;
  return 0;
}

void tree_sitter_porism_external_scanner_deserialize(void *payload, const char *buffer,
                                                     unsigned length) {
  (void)payload;
  (void)buffer;
  (void)length;
}

bool tree_sitter_porism_external_scanner_scan(void *payload, TSLexer *lexer,
                                              const bool *valid) {
  (void)payload;
  if (valid[ERROR_SENTINEL]) return false;
  if (valid[DISPLAY_TEX]) return scan_display_tex(lexer);
  if (valid[MATH_TEX]) return scan_math_tex(lexer);
  if (at_end(lexer)) return false;
  if (valid[UNCLOSED_TEX]) return scan_unclosed_tex(lexer, valid);
  if (valid[UNCLOSED_FLOW_TEX]) return scan_unclosed_flow_tex(lexer, valid);
  switch (lexer->lookahead) {
    case ' ': case '\t': case '\r': case '\n':
      return scan_white_space(lexer, valid);
    case '$':
      return valid[MATH_OPEN] && scan_math_open(lexer, valid);
    case '#':
      return valid[HEADING_MARKER] && scan_heading_marker(lexer);
    case '%':
      return valid[COMMENT] && scan_comment(lexer);
    case 0:
      return valid[NUL] && scan_nul(lexer);
    default:
      return valid[KEY] && scan_key(lexer);
  }
}
