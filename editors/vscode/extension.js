// Starts the Porism server for notes and puts its commands into the palette.

const { execFile } = require('node:child_process');
const vscode = require('vscode');
const { LanguageClient, RevealOutputChannelOn, SymbolKind } = require('vscode-languageclient/node');

/** @type {LanguageClient | undefined} */
let client;

function configuredProgram() {
  return vscode.workspace.getConfiguration('porism').get('server.path', 'porism');
}

async function start() {
  const program = configuredProgram();
  const run = { command: program, args: ['serve', '--stdio'] };
  const starting = new LanguageClient(
    'porism',
    'Porism',
    { run, debug: run },
    {
      documentSelector: [{ language: 'porism' }],
      revealOutputChannelOn: RevealOutputChannelOn.Never,
    },
  );
  client = starting;
  try {
    await starting.start();
  } catch (problem) {
    const open = 'Open the setting';
    const answer = await vscode.window.showErrorMessage(
      `Porism: cannot run ${program}: ${said(problem)}. Install the program, or say in the setting ` +
        'porism.server.path where it is.',
      open,
    );
    if (answer === open) {
      await vscode.commands.executeCommand('workbench.action.openSettings', 'porism.server.path');
    }
  }
}

async function stop() {
  const stopping = client;
  client = undefined;
  // A client that never started cannot be stopped.
  await stopping?.dispose().catch(() => {});
}

/** @param {unknown} problem */
function said(problem) {
  return problem instanceof Error ? problem.message : String(problem);
}

/**
 * The client, once it runs; says why not.
 */
function running() {
  if (client?.isRunning()) return client;
  vscode.window.showWarningMessage(
    'Porism: the server does not run. Open a file of notes (.porism), or restart the server.',
  );
  return undefined;
}

/**
 * Lets the server execute a command; what comes of it arrives in requests of the server.
 *
 * @param {string} command
 * @param {unknown[]} args
 */
async function execute(command, args) {
  const server = running();
  if (!server) return;
  try {
    await server.sendRequest('workspace/executeCommand', { command, arguments: args });
  } catch (problem) {
    vscode.window.showErrorMessage(`Porism: ${said(problem)}`);
  }
}

/**
 * The blocks of a kind of the notebook, as the server lists them.
 *
 * @param {LanguageClient} server
 * @param {number} kind
 * @returns {Promise<{ label: string, description: string }[]>}
 */
async function blocks(server, kind) {
  /** @type {{ name: string, kind: number, containerName?: string }[] | null} */
  const symbols = await server.sendRequest('workspace/symbol', { query: '' });
  return (symbols ?? [])
    .filter((symbol) => symbol.kind === kind)
    .map((symbol) => ({ label: symbol.name, description: symbol.containerName ?? '' }));
}

const HOW = [
  { label: 'Notes closed', notes: 'closed', ask: null, description: 'as in the exam' },
  { label: 'Notes open', notes: 'open', ask: null, description: 'a first round' },
  { label: 'A round of theorems', notes: 'closed', ask: 'theorems', description: 'to state and prove' },
];

async function draw() {
  const server = running();
  if (!server) return;
  const found = await blocks(server, SymbolKind.Event);
  if (found.length === 0) {
    vscode.window.showInformationMessage(
      'Porism: there is no exam in these notes yet: write @exam with its title, and on: with its date.',
    );
    return;
  }
  const exam =
    found.length === 1
      ? found[0]
      : await vscode.window.showQuickPick(found, {
          title: 'Draw a mock test',
          placeHolder: 'For which exam?',
        });
  if (!exam) return;
  const how = await vscode.window.showQuickPick(HOW, {
    title: `Draw a mock test for ${exam.label}`,
    placeHolder: 'How will you sit it?',
  });
  if (!how) return;
  const { notes, ask } = how;
  await execute('porism.drawPaper', [exam.description, exam.label, notes, null, null, ask]);
}

const ORDER = [
  { label: 'Mixed', order: 'mixed', description: 'the approach must be chosen each time' },
  { label: 'Blocked', order: 'blocked', description: 'one kind after the other: for a first acquaintance' },
];

/**
 * Asks for patterns and topics, and for exams where there may be one; gives the course and the names.
 *
 * @param {LanguageClient} server
 * @param {string} title
 * @param {boolean} withExams
 */
async function about(server, title, withExams) {
  const kinds = [
    { kind: SymbolKind.Class, what: 'pattern' },
    { kind: SymbolKind.Namespace, what: 'topic' },
    ...(withExams ? [{ kind: SymbolKind.Event, what: 'exam' }] : []),
  ];
  /** @type {{ label: string, description: string, course: string, what: string }[]} */
  const found = [];
  for (const { kind, what } of kinds) {
    for (const { label, description } of await blocks(server, kind)) {
      const shown = description ? `${what} of ${description}` : what;
      found.push({ label, description: shown, course: description, what });
    }
  }
  if (found.length === 0) {
    vscode.window.showInformationMessage(
      'Porism: there is no pattern in these notes yet: write @pattern with its name.',
    );
    return undefined;
  }
  const picked = await vscode.window.showQuickPick(found, {
    title,
    placeHolder: 'About what? One or several of one course',
    canPickMany: true,
  });
  if (!picked || picked.length === 0) return undefined;
  const names = (/** @type {string} */ what) =>
    picked.filter((one) => one.what === what).map((one) => one.label).join(', ') || null;
  return {
    course: picked[0].course,
    patterns: names('pattern'),
    topics: names('topic'),
    exam: names('exam'),
  };
}

async function drill() {
  const server = running();
  if (!server) return;
  const asked = await about(server, 'Draw a drill sheet', false);
  if (!asked) return;
  const order = await vscode.window.showQuickPick(ORDER, {
    title: 'Draw a drill sheet',
    placeHolder: 'In which order?',
  });
  if (!order) return;
  await execute('porism.drawDrill', [asked.course, asked.patterns, asked.topics, order.order]);
}

async function spotting() {
  const server = running();
  if (!server) return;
  const asked = await about(server, 'Draw a spotting round', true);
  if (!asked) return;
  await execute('porism.drawSpotting', [asked.course, asked.exam, asked.patterns, asked.topics]);
}

const PLANS = [
  { label: 'The best plan', relearnFirst: false, why: false, description: '' },
  { label: 'With a reason for each block', relearnFirst: false, why: true, description: '' },
  {
    label: 'Relearning first',
    relearnFirst: true,
    why: false,
    description: 'all that was never learned before any practice; says what that costs',
  },
  { label: 'Relearning first, with a reason for each block', relearnFirst: true, why: true, description: '' },
];

async function plan() {
  if (!running()) return;
  const how = await vscode.window.showQuickPick(PLANS, {
    title: 'Plan the days left',
    placeHolder: 'Which plan?',
  });
  if (!how) return;
  await execute('porism.showPlan', [how.relearnFirst, how.why]);
}

/**
 * Runs a command of the server on the paper that is shown.
 *
 * @param {string} command
 * @param {unknown[]} more
 */
async function onPaper(command, ...more) {
  const document = vscode.window.activeTextEditor?.document;
  if (document?.languageId !== 'porism') {
    vscode.window.showWarningMessage('Porism: open the paper first.');
    return;
  }
  await execute(command, [document.uri.toString(), '', ...more]);
}

/** Makes another problem like the one under the cursor, or of the pattern there. */
async function another() {
  const kind = 'refactor.porism.another';
  await vscode.commands.executeCommand('editor.action.codeAction', { kind, apply: 'first' });
}

/**
 * What the program prints when it is called so.
 *
 * @param {string[]} args
 * @returns {Promise<string>}
 */
function printed(...args) {
  return new Promise((resolve, reject) => {
    execFile(configuredProgram(), args, (problem, out, complaint) => {
      if (problem) reject(new Error(complaint.trim() || problem.message));
      else resolve(out);
    });
  });
}

/** The code of the finding under the cursor. */
function codeHere() {
  const editor = vscode.window.activeTextEditor;
  if (!editor) return undefined;
  const finding = vscode.languages
    .getDiagnostics(editor.document.uri)
    .find((found) => found.source === 'porism' && found.range.contains(editor.selection.active));
  const code = finding?.code;
  return typeof code === 'object' ? String(code.value) : code && String(code);
}

async function explain() {
  try {
    const here = codeHere();
    const checks = (await printed('explain'))
      .split('\n')
      .map((line) => line.match(/^(\S+)\s+(.*)$/))
      .filter((match) => match !== null)
      .map(([, label, description]) => ({ label, description }))
      // The one under the cursor first.
      .sort((a, b) => Number(b.label === here) - Number(a.label === here));
    const check = await vscode.window.showQuickPick(checks, {
      title: 'Explain a check',
      matchOnDescription: true,
    });
    if (!check) return;
    const content = await printed('explain', check.label);
    const page = await vscode.workspace.openTextDocument({ content, language: 'markdown' });
    await vscode.window.showTextDocument(page, { preview: true });
  } catch (problem) {
    vscode.window.showErrorMessage(`Porism: ${said(problem)}`);
  }
}

/** @param {vscode.ExtensionContext} context */
async function activate(context) {
  /** @type {Record<string, () => unknown>} */
  const commands = {
    'porism.draw': draw,
    'porism.drill': drill,
    'porism.spotting': spotting,
    'porism.record': () => onPaper('porism.recordMarks', false),
    'porism.recordSkipped': () => onPaper('porism.recordMarks', true),
    'porism.answers': () => onPaper('porism.showAnswers'),
    'porism.reasons': () => onPaper('porism.showReasons'),
    'porism.plan': plan,
    'porism.calendar': () => execute('porism.writeCalendar', [null]),
    'porism.another': another,
    'porism.explain': explain,
    'porism.restart': async () => {
      await stop();
      await start();
    },
  };
  for (const [name, action] of Object.entries(commands)) {
    context.subscriptions.push(vscode.commands.registerCommand(name, action));
  }
  context.subscriptions.push(
    vscode.workspace.onDidChangeConfiguration(async (change) => {
      if (change.affectsConfiguration('porism.server')) {
        await stop();
        await start();
      }
    }),
  );
  await start();
}

module.exports = { activate, deactivate: stop };
