--- The Porism server in Neovim 0.7.2 and later: how it is started, and what `:Porism` does.
local M = {}

-- Kinds of symbol of the protocol (`Event`, `Class`, `Namespace`): how the server lists blocks.
local EXAM, PATTERN, TOPIC = 24, 5, 3

local function say(message, level)
  vim.notify('porism: ' .. message, level or vim.log.levels.INFO)
end

--- The command line that starts the server: `vim.g.porism_cmd`, or the program on the path.
function M.cmd()
  return vim.g.porism_cmd or { 'porism', 'serve', '--stdio' }
end

local function program()
  return vim.fn.expand(M.cmd()[1])
end

--- Whether the program is there; says once what to do if it is not.
local function is_installed()
  if vim.fn.executable(program()) == 1 then
    return true
  end
  if not M.has_complained then
    M.has_complained = true
    say(
      ('cannot run %s. Install it, or set vim.g.porism_cmd, such as '):format(program())
        .. "{ '/path/to/porism', 'serve', '--stdio' }.",
      vim.log.levels.WARN
    )
  end
  return false
end

local function parent(folder)
  return vim.fn.fnamemodify(folder, ':h')
end

--- The folder of the notebook that a file belongs to: the repository around it; else the current
--- folder, if the file is inside; else the folder of the file, or the one around `papers`. Never
--- the home folder or the root of the disk, which are too large to be read.
function M.root(file)
  local home = vim.fn.fnamemodify(vim.fn.expand('~'), ':p:h')
  local own = vim.fn.fnamemodify(file, ':p:h')
  local function is_notebook(folder)
    return folder ~= home and folder ~= parent(folder)
  end
  local around, cwd = {}, vim.fn.fnamemodify(vim.fn.getcwd(), ':p:h')
  local folder = own
  while is_notebook(folder) do
    table.insert(around, folder)
    folder = parent(folder)
  end
  for _, candidate in ipairs(around) do
    if vim.fn.isdirectory(candidate .. '/.git') == 1 or vim.fn.filereadable(candidate .. '/.git') == 1 then
      return candidate
    end
  end
  for _, candidate in ipairs(around) do
    if candidate == cwd then
      return candidate
    end
  end
  if vim.fn.fnamemodify(own, ':t') == 'papers' and is_notebook(parent(own)) then
    return parent(own)
  end
  return own
end

local function refresh_lenses()
  if next(M.attached(vim.api.nvim_get_current_buf())) then
    vim.lsp.codelens.refresh()
  end
end

local function keep_lenses(bufnr)
  if vim.fn.has('nvim-0.12') == 1 and vim.lsp.codelens.enable then
    vim.lsp.codelens.enable(true, { bufnr = bufnr })
    return
  end
  local group = vim.api.nvim_create_augroup('porism_lenses', { clear = false })
  vim.api.nvim_clear_autocmds({ group = group, buffer = bufnr })
  vim.api.nvim_create_autocmd({ 'BufEnter', 'InsertLeave', 'TextChanged', 'CursorHold' }, {
    group = group,
    buffer = bufnr,
    callback = refresh_lenses,
  })
  refresh_lenses()
end

local function map_keys(bufnr)
  if vim.g.no_plugin_maps or vim.g.no_porism_maps then
    return
  end
  local function map(keys, action, desc)
    vim.keymap.set('n', keys, action, { buffer = bufnr, desc = 'Porism: ' .. desc })
  end
  local function run(...)
    local words = { ... }
    return function()
      M.run(words)
    end
  end
  map('<LocalLeader>d', run('draw'), 'draw a mock test')
  map('<LocalLeader>m', run('record'), 'record the marks')
  map('<LocalLeader>a', run('answers'), 'show the answers')
  map('<LocalLeader>p', run('plan'), 'plan the days left')
  map('<LocalLeader>l', run('lens'), 'do what stands above the line')
  map('<LocalLeader>e', run('explain'), 'explain the finding in this line')
  -- Keys that newer versions set by themselves.
  if vim.fn.has('nvim-0.10') == 0 then
    map('K', vim.lsp.buf.hover, 'tell about what is under the cursor')
  end
  if vim.fn.has('nvim-0.11') == 0 then
    map('gra', vim.lsp.buf.code_action, 'mend the line')
    map('grr', vim.lsp.buf.references, 'list where this is used')
    map('gO', vim.lsp.buf.document_symbol, 'outline')
  end
end

--- The whole text of a completion: by itself, 0.11 and later cut a name at its first space.
local function whole_word(item)
  local SNIPPET = vim.lsp.protocol.InsertTextFormat.Snippet
  if item.textEdit and item.insertTextFormat ~= SNIPPET then
    return { word = item.textEdit.newText }
  end
  return {}
end

local function on_attach(client, bufnr)
  vim.bo[bufnr].omnifunc = 'v:lua.vim.lsp.omnifunc'
  if vim.fn.has('nvim-0.11') == 1 then
    vim.lsp.completion.enable(true, client.id, bufnr, {
      autotrigger = vim.g.porism_complete == true,
      convert = whole_word,
    })
  end
  if vim.fn.has('nvim-0.8') == 0 then
    -- Newer versions jump by way of the tag stack.
    vim.keymap.set('n', '<C-]>', vim.lsp.buf.definition, { buffer = bufnr })
  end
  map_keys(bufnr)
  if client.server_capabilities.codeLensProvider then
    keep_lenses(bufnr)
  end
end

--- Makes an edit that the server asks for, and shows the file that it creates, or the only one that
--- it changes. Only for versions to which the server cannot say that a file is to be shown.
local function apply_and_show(err, params, ctx, config)
  local changes = params.edit.documentChanges or {}
  for _, change in ipairs(changes) do
    if change.kind == 'create' then
      -- It does not make the folder by itself.
      vim.fn.mkdir(parent(vim.uri_to_fname(change.uri)), 'p')
    end
  end
  local answer = vim.lsp.handlers['workspace/applyEdit'](err, params, ctx, config)
  if not (answer and answer.applied) then
    return answer
  end
  for _, change in ipairs(changes) do
    if change.kind == 'create' or #changes == 1 then
      local bufnr = vim.uri_to_bufnr(change.uri or change.textDocument.uri)
      vim.bo[bufnr].buflisted = true
      if vim.fn.bufwinid(bufnr) == -1 then
        local is_plain = vim.bo.buftype == '' and (vim.o.hidden or not vim.bo.modified)
        vim.cmd((is_plain and 'buffer ' or 'sbuffer ') .. bufnr)
      end
      if vim.bo[bufnr].filetype == '' then
        vim.bo[bufnr].filetype = 'porism'
      end
    end
  end
  return answer
end

--- The client's configuration, for `vim.lsp.config` (0.11 and later), or with a root for
--- `vim.lsp.start` and `vim.lsp.start_client`.
function M.config()
  local capabilities = vim.lsp.protocol.make_client_capabilities()
  local shows = vim.tbl_get and vim.tbl_get(capabilities, 'window', 'showDocument', 'support')
  return {
    name = 'porism',
    cmd = M.cmd(),
    filetypes = { 'porism' },
    capabilities = capabilities,
    on_attach = on_attach,
    handlers = (not shows) and { ['workspace/applyEdit'] = apply_and_show } or nil,
    -- Used by 0.11 and later: the server starts when a folder is given.
    root_dir = function(bufnr, start)
      local file = vim.api.nvim_buf_get_name(bufnr)
      if file ~= '' and is_installed() then
        start(M.root(file))
      end
    end,
  }
end

-- 0.7: one client for each root.
local started = {}

local function start_in(bufnr)
  local file = vim.api.nvim_buf_get_name(bufnr)
  if file == '' or vim.bo[bufnr].buftype ~= '' or not is_installed() then
    return
  end
  local config = M.config()
  config.root_dir = M.root(file)
  if vim.lsp.start then
    vim.lsp.start(config, { bufnr = bufnr })
    return
  end
  local id = started[config.root_dir]
  if not (id and vim.lsp.get_client_by_id(id)) then
    id = vim.lsp.start_client(config)
    started[config.root_dir] = id
  end
  if id then
    vim.lsp.buf_attach_client(bufnr, id)
  end
end

--- Starts the server whenever a file of notes is opened.
function M.start_for_notes()
  if vim.fn.has('nvim-0.11') == 1 then
    vim.lsp.enable('porism')
    return
  end
  vim.api.nvim_create_autocmd('FileType', {
    group = vim.api.nvim_create_augroup('porism_start', {}),
    pattern = 'porism',
    callback = function(event)
      start_in(event.buf)
    end,
  })
end

--- The clients of this server that serve a buffer.
function M.attached(bufnr)
  local all = vim.lsp.get_clients and vim.lsp.get_clients({ bufnr = bufnr })
    or vim.tbl_values(vim.lsp.buf_get_clients(bufnr))
  return vim.tbl_filter(function(client)
    return client.name == 'porism'
  end, all)
end

local function request(method, params, on_result)
  local bufnr = vim.api.nvim_get_current_buf()
  if not next(M.attached(bufnr)) then
    say('the server does not serve this buffer: open a file whose name ends in .porism.', vim.log.levels.WARN)
    return
  end
  vim.lsp.buf_request(bufnr, method, params, function(err, result)
    if err then
      say(err.message, vim.log.levels.ERROR)
    elseif on_result then
      on_result(result)
    end
  end)
end

local function execute(command, arguments)
  request('workspace/executeCommand', { command = command, arguments = arguments })
end

local function this_file()
  return vim.uri_from_bufnr(0)
end

--- Asks for an exam of the notebook, unless there is only one.
local function with_exam(act)
  request('workspace/symbol', { query = '' }, function(symbols)
    local exams = vim.tbl_filter(function(symbol)
      return symbol.kind == EXAM
    end, symbols or {})
    if #exams == 0 then
      say('there is no exam in these notes yet: write @exam with its title, and on: with its date.')
    elseif #exams == 1 then
      act(exams[1])
    else
      vim.ui.select(exams, {
        prompt = 'Draw a mock test for',
        format_item = function(exam)
          return exam.containerName and ('%s (%s)'):format(exam.name, exam.containerName) or exam.name
        end,
      }, function(exam)
        if exam then
          act(exam)
        end
      end)
    end
  end)
end

local kind_words = { [EXAM] = 'exam', [PATTERN] = 'pattern', [TOPIC] = 'topic' }

--- Asks for a pattern or a topic, or another block of these kinds.
local function with_subject(prompt, kinds, act)
  request('workspace/symbol', { query = '' }, function(symbols)
    local found = vim.tbl_filter(function(symbol)
      return vim.tbl_contains(kinds, symbol.kind)
    end, symbols or {})
    if #found == 0 then
      say('there is no pattern in these notes yet: write @pattern with its name.')
      return
    end
    vim.ui.select(found, {
      prompt = prompt,
      format_item = function(symbol)
        local course = symbol.containerName
        local of = course and course ~= '' and ' of ' .. course or ''
        return ('%s (%s%s)'):format(symbol.name, kind_words[symbol.kind], of)
      end,
    }, function(symbol)
      if symbol then
        local function name(kind)
          return symbol.kind == kind and symbol.name or vim.NIL
        end
        act(symbol.containerName or '', name)
      end
    end)
  end)
end

local function has(words, word)
  return vim.tbl_contains(words, word)
end

local function show_page(name, lines)
  vim.cmd('botright new')
  vim.api.nvim_buf_set_lines(0, 0, -1, false, lines)
  vim.bo.buftype, vim.bo.bufhidden, vim.bo.swapfile, vim.bo.modifiable = 'nofile', 'wipe', false, false
  pcall(vim.api.nvim_buf_set_name, 0, name)
  vim.keymap.set('n', 'q', '<Cmd>close<CR>', { buffer = true })
end

local function code_here()
  local line = vim.api.nvim_win_get_cursor(0)[1] - 1
  for _, finding in ipairs(vim.diagnostic.get(0, { lnum = line })) do
    if finding.source == 'porism' and finding.code then
      return tostring(finding.code)
    end
  end
end

local function clients()
  local all = vim.lsp.get_clients and vim.lsp.get_clients() or vim.lsp.get_active_clients()
  return vim.tbl_filter(function(client)
    return client.name == 'porism'
  end, all)
end

--- Stops the server and opens it again for the notes that are on screen or hidden.
local function restart()
  local ids = vim.tbl_map(function(client)
    return client.id
  end, clients())
  vim.lsp.stop_client(ids)
  local tries = 0
  local function start_when_gone()
    tries = tries + 1
    if next(clients()) and tries < 50 then
      vim.defer_fn(start_when_gone, 100)
      return
    end
    for _, bufnr in ipairs(vim.api.nvim_list_bufs()) do
      if vim.api.nvim_buf_is_loaded(bufnr) and vim.bo[bufnr].filetype == 'porism' then
        vim.api.nvim_buf_call(bufnr, function()
          vim.cmd('doautocmd <nomodeline> FileType porism')
        end)
      end
    end
  end
  start_when_gone()
end

local actions = {
  draw = function(words)
    with_exam(function(exam)
      execute('porism.drawPaper', {
        exam.containerName or '',
        exam.name,
        has(words, 'open') and 'open' or 'closed',
        vim.NIL,
        vim.NIL,
        has(words, 'theorems') and 'theorems' or vim.NIL,
      })
    end)
  end,
  drill = function(words)
    with_subject('Draw a drill sheet on', { PATTERN, TOPIC }, function(course, name)
      local order = has(words, 'blocked') and 'blocked' or 'mixed'
      execute('porism.drawDrill', { course, name(PATTERN), name(TOPIC), order })
    end)
  end,
  spotting = function()
    with_subject('Draw a spotting round for', { EXAM, TOPIC, PATTERN }, function(course, name)
      execute('porism.drawSpotting', { course, name(EXAM), name(PATTERN), name(TOPIC) })
    end)
  end,
  record = function(words)
    execute('porism.recordMarks', { this_file(), '', has(words, 'skipped') })
  end,
  answers = function()
    execute('porism.showAnswers', { this_file(), '' })
  end,
  reasons = function()
    execute('porism.showReasons', { this_file(), '' })
  end,
  plan = function(words)
    execute('porism.showPlan', { has(words, 'relearn'), has(words, 'why') })
  end,
  calendar = function()
    execute('porism.writeCalendar', { vim.NIL })
  end,
  another = function()
    local context = { diagnostics = {}, only = { 'refactor.porism.another' } }
    if vim.fn.has('nvim-0.8') == 1 then
      vim.lsp.buf.code_action({ context = context, apply = true })
    else
      -- It takes the context alone, and the one thing offered is to be chosen from a list.
      vim.lsp.buf.code_action(context)
    end
  end,
  lens = function()
    vim.lsp.codelens.run()
  end,
  explain = function(words)
    if not is_installed() then
      return
    end
    local code = words[1] or code_here()
    local call = { program(), 'explain', code }
    show_page('porism explain ' .. (code or ''), vim.fn.systemlist(call))
  end,
  restart = restart,
}

local words_of = {
  draw = { 'closed', 'open', 'theorems' },
  drill = { 'blocked', 'mixed' },
  plan = { 'relearn', 'why' },
  record = { 'skipped' },
}

--- What `:Porism` does: the first word says what, the others how.
function M.run(words)
  words = vim.deepcopy(words)
  local action = actions[table.remove(words, 1)]
  if action then
    action(words)
  else
    local known = vim.tbl_keys(actions)
    table.sort(known)
    say(':Porism takes one of: ' .. table.concat(known, ', ') .. '.', vim.log.levels.ERROR)
  end
end

--- The words that `:Porism` takes at this place.
function M.complete(start, line)
  local first = line:match('^%s*%S+%s+(%S+)%s')
  local offered = first and words_of[first] or not first and vim.tbl_keys(actions) or {}
  local fitting = vim.tbl_filter(function(word)
    return vim.startswith(word, start)
  end, offered)
  table.sort(fitting)
  return fitting
end

return M
