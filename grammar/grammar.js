/**
 * The grammar of Porism notes.
 *
 * It is total: every line has a fallback node, so every text parses without an
 * ERROR or MISSING node. The shape of a line is decided by tokens that look
 * ahead (src/scanner.c); TeX and the values of fields stay opaque.
 *
 * @license MIT OR Apache-2.0
 */

// A character inside a word of text. A backslash belongs to the word unless it
// starts an escape or stands at the end of the word.
const WORD_CHARACTER = '(?:[^ \\t\\r\\n$\\\\]|\\\\[^ \\t\\r\\n$@%#\\\\])';

// A word after white space. It may not be a run of `%` alone, because that
// starts a comment.
const WORD = `%*(?:[^ \\t\\r\\n$\\\\%]|\\\\[^ \\t\\r\\n$@%#\\\\])${WORD_CHARACTER}*`;

const TEXT = new RegExp(`${WORD_CHARACTER}+(?:[ \\t]+${WORD})*`);

/**
 * Classes of indentation, in columns with tab stops of four:
 * a: 1 to 3, b: 4 or 5, c: 6 or 7, d: 8 and more.
 * A line continues the field above it when its class is later than the field's.
 */
const INDENTATIONS = ['a', 'b', 'c', 'd'];

const newline = ($, indentation) => $[`_newline_${indentation}`];

// Display math differs in how far it may look for its closing `$$`:
// `line` within its line; `body` over indented lines; `flow` over all lines of
// the paragraph.
const EXTENTS = ['line', 'body', 'flow'];

const content = ($, extent) => {
  const item = choice(
    $.text,
    alias($._backslash, $.text),
    alias($._nul, $.text),
    alias($._amount_text, $.text),
    $.escape,
    $.inline_math,
    $.display_math,
    alias($._unclosed_inline, $.unclosed_math),
    alias($[`_unclosed_display_${extent}`], $.unclosed_math),
  );
  return seq(item, repeat(seq(optional($._space), item)));
};

const trailingComment = ($) => seq($._comment_space, $.comment);

const perExtent = (make) =>
  Object.fromEntries(EXTENTS.flatMap((extent) => make(extent)));

const perIndentation = (make) =>
  Object.fromEntries(INDENTATIONS.flatMap((_, index) => make(index)));

const fieldName = (index) => `_field_${INDENTATIONS[index]}`;
const valueName = (index) => `_value_${INDENTATIONS[index]}`;

export default grammar({
  name: 'porism',

  extras: (_) => [],

  externals: ($) => [
    // White space.
    $._start_blank,
    $._start_indentation,
    $._newline,
    $._newline_comment,
    $._newline_indented,
    ...INDENTATIONS.map((indentation) => newline($, indentation)),
    $._space,
    $._comment_space,
    // Shapes of lines.
    $.heading_marker,
    $.key,
    $.comment,
    // The generated lexer takes NUL for the end of the text.
    $._nul,
    // Math.
    $._math_open,
    $._math_tex,
    $._unclosed_math_open,
    $._amount_sign,
    $._display_open,
    ...EXTENTS.map((extent) => $[`_unclosed_display_open_${extent}`]),
    $._display_tex,
    $._unclosed_tex,
    $._unclosed_flow_tex,
    // Valid only during error recovery.
    $._error_sentinel,
  ],

  rules: {
    source_file: ($) =>
      choice(
        optional($._start_blank),
        seq(optional($._start_blank), $._units),
        seq($._start_indentation, $._indented_start_units),
      ),

    _units: ($) => seq($._unit, repeat(seq($._newline, $._unit)), optional($._newline)),

    // A file that starts with an indented line: it has no unit above.
    _indented_start_units: ($) =>
      seq(
        $._indented_unit,
        repeat(seq($._newline, $._unit)),
        optional($._newline),
      ),

    _indented_unit: ($) => choice($.comment, alias($._indented_prose, $.prose)),

    _unit: ($) => choice($.block, $.heading, $.comment, $.prose),

    block: ($) => seq(field('header', $.header), repeat($._body_line)),

    header: ($) =>
      seq(
        token(prec(1, '@')),
        field('kind', optional($.kind)),
        optional(seq(optional($._space), field('title', $.title))),
        optional(trailingComment($)),
      ),

    // Any letters here, so that `@Problem` can be answered with a correction.
    kind: (_) =>
      token.immediate(
        prec(
          1,
          /[A-Za-z\u0080-\u009f\u00a1-\u1fff\u2070-\u2fff\u3001-\u{10ffff}][A-Za-z0-9_\-\u0080-\u009f\u00a1-\u1fff\u2070-\u2fff\u3001-\u{10ffff}]*/u,
        ),
      ),

    title: ($) => content($, 'line'),

    _body_line: ($) =>
      choice(
        seq($._newline_comment, $.comment),
        ...INDENTATIONS.map((indentation, index) =>
          seq(
            newline($, indentation),
            choice($.comment, $.statement, alias($[fieldName(index)], $.field)),
          ),
        ),
      ),

    statement: ($) => seq($._body_content, optional(trailingComment($))),

    ...perIndentation((index) => {
      const deeper = INDENTATIONS.slice(index + 1);
      const isLast = deeper.length === 0;
      const valueLine = ($) => seq($._body_content, optional(trailingComment($)));
      const continuation = ($) =>
        choice(
          ...deeper.map((indentation) =>
            seq(newline($, indentation), choice($.comment, valueLine($))),
          ),
        );
      // The value of a field whose first line is empty.
      const value = ($) => field('value', alias($[valueName(index)], $.value));
      const rules = [
        [
          fieldName(index),
          ($) =>
            prec.right(
              seq(
                field('key', $.key),
                ':',
                isLast
                  ? choice(seq($._space, value($)), optional(trailingComment($)))
                  : choice(
                      seq($._space, value($)),
                      seq(
                        optional(trailingComment($)),
                        optional(
                          seq(
                            choice(...deeper.map((indentation) => newline($, indentation))),
                            value($),
                          ),
                        ),
                      ),
                    ),
              ),
            ),
        ],
        [
          valueName(index),
          ($) =>
            isLast
              ? valueLine($)
              : prec.right(
                  seq(choice($.comment, valueLine($)), repeat(continuation($))),
                ),
        ],
      ];
      return rules;
    }),

    heading: ($) =>
      seq(
        field('marker', $.heading_marker),
        optional(seq($._space, field('title', $.title))),
        optional(trailingComment($)),
        optional(seq($._newline_indented, $._indented_unit)),
      ),

    // A comment in column 0 with indented lines below it is prose, too.
    prose: ($) =>
      choice(
        seq($._flow_content, optional(trailingComment($)), repeat($._indented_line)),
        seq($.comment, repeat1($._indented_line)),
      ),

    _indented_prose: ($) =>
      choice(
        seq($._body_content, optional(trailingComment($)), repeat($._indented_line)),
        seq($.comment, repeat1($._indented_line)),
      ),

    _indented_line: ($) =>
      seq(
        $._newline_indented,
        choice($.comment, seq($._body_content, optional(trailingComment($)))),
      ),

    _body_content: ($) => content($, 'body'),
    _flow_content: ($) => content($, 'flow'),

    text: (_) => token(TEXT),
    _backslash: (_) => token(/\\/),
    _amount_text: ($) => seq($._amount_sign, $._amount),
    _amount: (_) => token(TEXT),
    escape: (_) => /\\[$@%#]/,

    inline_math: ($) =>
      seq(
        alias($._math_open, '$'),
        field('tex', alias($._math_tex, $.tex)),
        token.immediate('$'),
      ),

    display_math: ($) =>
      seq(
        alias($._display_open, '$$'),
        optional(field('tex', alias($._display_tex, $.tex))),
        token.immediate('$$'),
      ),

    _unclosed_inline: ($) =>
      seq(
        alias($._unclosed_math_open, '$'),
        optional(field('tex', alias($._unclosed_tex, $.tex))),
      ),

    ...perExtent((extent) => {
      const tex = ($) => (extent === 'flow' ? $._unclosed_flow_tex : $._unclosed_tex);
      return [
        [
          `_unclosed_display_${extent}`,
          ($) =>
            seq(
              alias($[`_unclosed_display_open_${extent}`], '$$'),
              optional(field('tex', alias(tex($), $.tex))),
            ),
        ],
      ];
    }),
  },
});
