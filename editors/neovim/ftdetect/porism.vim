autocmd BufRead,BufNewFile *.porism setfiletype porism
