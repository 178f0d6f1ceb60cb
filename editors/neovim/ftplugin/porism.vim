" How notes are typed: two columns for a block's body, comments behind %.
if exists('b:did_ftplugin')
  finish
endif
let b:did_ftplugin = 1

setlocal expandtab shiftwidth=2 softtabstop=2
setlocal comments=:% commentstring=%\ %s
" A line that Vim broke by itself would start a new statement.
setlocal formatoptions-=t formatoptions+=l
setlocal linebreak

let b:undo_ftplugin = 'setlocal expandtab< shiftwidth< softtabstop< comments< commentstring<'
      \ . ' formatoptions< linebreak<'
