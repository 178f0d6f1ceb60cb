; TeX is one leaf to this grammar.

((tex) @injection.content
  (#set! injection.language "latex"))
