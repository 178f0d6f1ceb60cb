; Patterns are defined by their blocks and named in fields. The names of a list are one
; value to this grammar, so a reference is found where a field names one pattern.

(source_file) @local.scope

((header
  kind: (kind) @_kind
  title: (title) @local.definition)
  (#eq? @_kind "pattern"))

((field
  key: (key) @_key
  value: (value) @local.reference)
  (#any-of? @_key "pattern" "reduces to" "confused with"))
