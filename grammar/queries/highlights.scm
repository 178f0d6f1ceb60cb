; Colours.

(comment) @comment

; Lines that open a unit
(header
  "@" @punctuation.special)

(kind) @keyword

(header
  title: (title) @markup.heading)

(heading_marker) @punctuation.special

(heading
  title: (title) @markup.heading)

; Fields
(key) @property

(field
  ":" @punctuation.delimiter)

; Math
[
  "$"
  "$$"
] @punctuation.delimiter

(tex) @markup.raw

(escape) @string.escape
