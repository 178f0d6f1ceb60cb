[
  (block)
  (display_math)
] @fold
