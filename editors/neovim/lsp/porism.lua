-- The server's configuration for Neovim 0.11 and later; `vim.lsp.config('porism', {...})` in your
-- own configuration is merged over it.
return require('porism').config()
