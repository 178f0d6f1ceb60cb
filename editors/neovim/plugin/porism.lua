-- Starts the server for notes and offers `:Porism`. See README.md beside this folder.
if vim.g.loaded_porism then
  return
end
vim.g.loaded_porism = true

local porism = require('porism')
porism.start_for_notes()

vim.api.nvim_create_user_command('Porism', function(call)
  porism.run(call.fargs)
end, {
  nargs = '+',
  desc = 'Porism: draw a paper, record its marks, show its answers',
  complete = function(...)
    return porism.complete(...)
  end,
})
