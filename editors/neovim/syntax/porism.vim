" Colours for notes. Formulas and fields follow the rules of the format's reference page.
if exists('b:current_syntax')
  finish
endif

let s:cpo = &cpo
set cpo&vim

syntax case match
syntax spell toplevel
syntax sync minlines=60

" Formulas. An amount of money is defined last, so that it wins where it applies.
syntax cluster porismTex contains=porismTexCommand,porismTexNumber,porismTexSign
syntax match porismTexCommand contained /\\\%(\a\+\|.\)/ contains=@NoSpell
syntax match porismTexNumber contained /\d\+\%(\.\d\+\)\=/
syntax match porismTexSign contained /[{}^_&]/
syntax region porismMath matchgroup=porismMathSign oneline contains=@porismTex,@NoSpell
      \ start=/\$\$\@!/ skip=/\\./ end=/\$/
syntax region porismDisplayMath matchgroup=porismMathSign keepend contains=@porismTex,@NoSpell
      \ start=/\$\$/ skip=/\\./ end=/\$\$/
      \ matchgroup=NONE end=/^\ze\s*$/ end=/^\ze[@#]/
      \ end=/^\ze\s\+\l\l\+\%( \l\+\)\{,2}:\%(\s\|$\)/
syntax match porismAmount
      \ /\$\d[0-9,]*\%(\.\d\+\)\=\%([[:space:].,;:!?)\]"'\/–—’”…-]\|$\)\@=\%([^$]*[^[:blank:]$]\$\d\@!\)\@!/
syntax match porismEscape /\\[$@%#\\]/
syntax cluster porismInline contains=porismMath,porismDisplayMath,porismAmount,porismEscape,
      \porismTrailingComment,@Spell

" Comments: a line of its own, or behind white space with white space after the sign.
syntax match porismTrailingComment /\s\@1<=%\+\%(\s.*\)\=$/ contains=@Spell
syntax match porismComment /^\s*%.*$/ contains=@Spell

" Lines in column 0.
syntax match porismHeading /^#\{1,6}\%(\s.*\)\=$/ contains=@porismInline
syntax match porismHeader
      \ /^@\%(course\|exam\|topic\|pattern\|problem\|theorem\|definition\|paper\|question\)\>.*$/
      \ contains=porismKind,@porismInline
syntax match porismKind contained /^@\l\+/ contains=@NoSpell

" Fields.
syntax match porismKey
      \ /^\s\+\zs\%(answer\|by\|confused with\|covers\|cue\|drawn\|finished\|for\|fresh\|from\|hint\|homework\|learned\|length\|mark\|method\|mine\|minutes\|notes\|of\|off\|on\|pages\|pattern\|points\|proof\|questions\|quiz\|recorded\|reduces to\|result\|room\|seed\|shape\|solution\|spotted\|start\|started\|target\|term\|text\|topic\|tried\|uid\|weight\|zone\):\%(\s\|$\)\@=/
      \ contains=@NoSpell nextgroup=porismDateValue skipwhite
syntax match porismRecordKey
      \ /^\s\+\zs\%(learned\|mark\|notes\|spotted\|tried\):\%(\s\|$\)\@=/
      \ contains=@NoSpell nextgroup=porismRecord skipwhite
syntax match porismDateValue contained /\d\{4}-\d\d-\d\d\%([ T]\d\d:\d\d\)\=/
" A record ends at its remark.
syntax match porismRecord contained /[^,]*/
      \ contains=porismDateValue,porismRight,porismPartly,porismWrong,porismNotes,porismScore,
      \porismTrailingComment
syntax match porismScore contained /\<\d\+\%(\/\d\+\|%\)/
syntax keyword porismRight contained right yes
syntax keyword porismPartly contained partly skipped
syntax keyword porismWrong contained wrong no
syntax keyword porismNotes contained open closed mock

highlight default link porismComment Comment
highlight default link porismTrailingComment Comment
highlight default link porismHeading Title
highlight default link porismHeader Title
highlight default link porismKind Statement
highlight default link porismKey Identifier
highlight default link porismRecordKey Identifier
highlight default link porismDateValue Number
highlight default link porismScore Number
highlight default link porismRight String
highlight default link porismPartly Type
highlight default link porismWrong WarningMsg
highlight default link porismNotes Constant
highlight default link porismMathSign Delimiter
highlight default link porismMath Special
highlight default link porismDisplayMath Special
highlight default link porismTexCommand Function
highlight default link porismTexNumber Number
highlight default link porismTexSign Operator
highlight default link porismEscape SpecialChar

let b:current_syntax = 'porism'
let &cpo = s:cpo
unlet s:cpo
