; What spans lines. A heading opens a section of the outline but is no node around it.

[
  (block)
  (field)
  (display_math)
] @fold
