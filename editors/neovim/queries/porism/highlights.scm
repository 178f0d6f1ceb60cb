; Neovim's capture names.
(comment) @comment @spell

(header "@" @keyword)
(kind) @keyword
(header title: (title) @markup.heading)
(heading_marker) @markup.heading
(heading title: (title) @markup.heading)

(key) @property
(field ":" @punctuation.delimiter)

["$" "$$"] @punctuation.special
(tex) @markup.math @nospell
(escape) @string.escape

((field
  key: (key) @_key
  value: (value) @string)
  (#any-of? @_key "tried" "spotted" "mark"))

(prose) @spell
(statement) @spell
