--- `:checkhealth porism`: whether the program is found and runs.
local M = {}

function M.check()
  -- The functions were renamed in 0.10, and moved in 0.8.
  local health = vim.health or require('health')
  local start = health.start or health.report_start
  local ok, error = health.ok or health.report_ok, health.error or health.report_error
  local info = health.info or health.report_info

  start('porism')
  local cmd = require('porism').cmd()
  local program = vim.fn.expand(cmd[1])
  if vim.fn.executable(program) == 0 then
    error(('cannot run %s'):format(program), {
      'Install the program where your shell finds it,',
      "or set vim.g.porism_cmd, such as { '/path/to/porism', 'serve', '--stdio' }.",
    })
    return
  end
  local version = vim.fn.system({ program, '--version' })
  if vim.v.shell_error ~= 0 then
    error(('%s does not run: %s'):format(program, vim.trim(version)))
    return
  end
  ok(('%s at %s'):format(vim.trim(version), vim.fn.exepath(program)))
  info('started as: ' .. table.concat(cmd, ' '))
  local clients = vim.lsp.get_clients and vim.lsp.get_clients() or vim.lsp.get_active_clients()
  for _, client in ipairs(clients) do
    if client.name == 'porism' then
      ok('serves the notes in ' .. tostring(client.config.root_dir))
    end
  end
end

return M
