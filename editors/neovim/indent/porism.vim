" Where a new line starts: below a header two columns in, below a body line where that line
" starts, below an empty line in column 0. Lines that are there already are left alone: how deep
" a line stands decides what it belongs to.
if exists('b:did_indent')
  finish
endif
let b:did_indent = 1

setlocal indentexpr=PorismIndent()
setlocal indentkeys=o,O,0@,!^F
let b:undo_indent = 'setlocal indentexpr< indentkeys<'

if exists('*PorismIndent')
  finish
endif

function PorismIndent() abort
  if mode() !=# 'i'
    return -1
  endif
  if getline(v:lnum) =~# '^\s*@'
    return 0
  endif
  let above = v:lnum > 1 ? getline(v:lnum - 1) : ''
  if above =~# '^@'
    return shiftwidth()
  elseif above =~# '^\s\+\l[a-z ]*:\s*$'
    " A field whose value is still to come.
    return indent(v:lnum - 1) + shiftwidth()
  elseif above =~# '^\s*$'
    return 0
  endif
  return indent(v:lnum - 1)
endfunction
