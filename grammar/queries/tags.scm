; Names for an index: what a block calls itself, and fields that name one block.
;
; The words that decide are captured as `local.reference`, because the format of tags has
; no private captures and gives this one no meaning.

((block
  header: (header
    kind: (kind) @local.reference
    title: (title) @name)) @definition.pattern
  (#eq? @local.reference "pattern"))

((block
  header: (header
    kind: (kind) @local.reference
    title: (title) @name)) @definition.problem
  (#any-of? @local.reference "problem" "question"))

((block
  header: (header
    kind: (kind) @local.reference
    title: (title) @name)) @definition.statement
  (#any-of? @local.reference "theorem" "definition"))

((block
  header: (header
    kind: (kind) @local.reference
    title: (title) @name)) @definition.section
  (#any-of? @local.reference "course" "topic" "exam" "paper"))

((heading
  title: (title) @name) @definition.section)

((field
  key: (key) @local.reference
  value: (value) @name) @reference.pattern
  (#any-of? @local.reference "pattern" "reduces to" "confused with"))

((field
  key: (key) @local.reference
  value: (value) @name) @reference.section
  (#any-of? @local.reference "topic" "for"))

((field
  key: (key) @local.reference
  value: (value) @name) @reference.problem
  (#eq? @local.reference "of"))
