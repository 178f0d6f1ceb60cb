((tex) @injection.content
  (#set! injection.language "latex"))
