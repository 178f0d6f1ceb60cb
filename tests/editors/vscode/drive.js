// Drives VS Code in a browser: a note just typed, a drawn paper, its marks, the record, the undo.

const assert = require('node:assert');
const fs = require('node:fs');
const path = require('node:path');
const { chromium } = require('playwright-core');

const [url, notes, pictures, executablePath] = process.argv.slice(2);
// How long a step may take on a busy machine, in milliseconds.
const PATIENCE = 1000 * Number(process.env.PORISM_TEST_PATIENCE);

async function main() {
  const browser = await chromium.launch({
    executablePath,
    args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'],
  });
  const page = await browser.newPage({ viewport: { width: 1280, height: 860 } });
  page.setDefaultTimeout(PATIENCE);
  let step = 0;
  const picture = (name) =>
    page.screenshot({ path: path.join(pictures, `${++step}-${name}.png`) });

  try {
    await untilUp(url);
    await page.goto(url);
    await page.locator('.monaco-workbench').waitFor();

    // A note just typed.
    await open(page, 'waves.porism');
    await page.getByText('Draw a mock test', { exact: true }).waitFor();
    await picture('lenses');
    await page.keyboard.press('Control+End');
    await type(page, '\n@problem 1.2.2');
    await picture('problem');
    await type(page, '\npattern: seperable');
    await page.locator('.squiggly-error, .squiggly-warning').first().waitFor();
    await picture('misspelt');
    await palette(page, 'Go to Next Problem (Error, Warning, Info)');
    await page.getByText('Do you mean').first().waitFor();
    await picture('finding');
    await page.keyboard.press('Escape');
    await page.keyboard.press('Control+.');
    const fix = page.locator('.action-widget').getByText('separable').first();
    await fix.waitFor();
    await picture('quick-fix');
    await page.keyboard.press('Enter');
    await page.locator('.squiggly-error, .squiggly-warning').first().waitFor({ state: 'detached' });

    // Completion and hover.
    await page.keyboard.press('Control+End');
    await type(page, '\npattern: int');
    await page.locator('.suggest-widget').getByText('integrating factor').first().waitFor();
    await picture('completion');
    await page.keyboard.press('Escape');
    for (let i = 0; i < 2; i++) await page.keyboard.press('Control+z');
    await page.keyboard.press('Control+s');
    await page.keyboard.press('Control+Home');
    await find(page, 'pattern: separable');
    await palette(page, 'Show or Focus Hover');
    await page.locator('.monaco-hover').getByText('divide by the factor').first().waitFor();
    await picture('hover');
    await page.keyboard.press('Escape');

    // A paper.
    await palette(page, 'Porism: Draw a mock test');
    await page.locator('.quick-input-list .monaco-list-row', { hasText: 'Notes closed' }).waitFor();
    await picture('how');
    await page.keyboard.press('Enter');
    await page.locator('.tab.active', { hasText: 'first-midterm' }).waitFor();
    await page.getByText('@question', { exact: false }).first().waitFor();
    await picture('paper');
    await page.keyboard.press('Control+s');
    const paper = await file('papers');
    await until(() => count(paper, '@question') === 2, 'the paper is saved');
    const lines = fs.readFileSync(path.join(notes, paper), 'utf8').split('\n');
    const marks = lines.flatMap((line, i) => (line.startsWith('  mark:') ? [i + 1] : []));
    assert.equal(marks.length, 2);
    await typeAtEnd(page, marks[0], 'right');
    await typeAtEnd(page, marks[1], 'wrong');
    await picture('marks');
    await palette(page, 'Porism: Show the answers');
    await page.getByText('answer:', { exact: false }).first().waitFor();
    await picture('answers');
    await palette(page, 'Porism: Record the marks');
    await page.getByText('recorded:', { exact: false }).first().waitFor();
    await picture('recorded');
    await palette(page, 'File: Save All');
    await until(() => count('waves.porism', 'tried: 2027-02-15 closed mock') === 2, 'two tries');
    assert.equal(count(paper, 'recorded: 2027-02-15'), 1);
    assert.equal(count('waves.porism', 'mock right'), 1);
    assert.equal(count('waves.porism', 'mock wrong'), 1);

    // One undo takes the record back, in both files. The tabs say a little after the files that
    // all is saved.
    const changed = () => page.locator('.tab.dirty').count();
    await until(async () => (await changed()) === 0, 'all is saved');
    await page.keyboard.press('Control+z');
    const both = page.getByRole('button', { name: /undo in .* files/i });
    await both.or(page.locator('.tab.active.dirty')).first().waitFor();
    if (await both.isVisible()) {
      await picture('undo');
      await both.click();
    }
    await until(async () => (await changed()) === 2, 'both files changed');
    await palette(page, 'File: Save All');
    await until(() => count('waves.porism', 'tried:') === 0, 'no tries after the undo');
    assert.equal(count(paper, 'recorded: 2027-02-15'), 0);
    await picture('undone');

    // A drill sheet: the one problem of the kind, as it stands and with other numbers.
    await palette(page, 'Porism: Draw a drill sheet');
    const rows = page.locator('.quick-input-list .monaco-list-row');
    await rows.filter({ hasText: 'pattern of Waves' }).first().click();
    await picture('about');
    await page.keyboard.press('Enter');
    await rows.filter({ hasText: 'Blocked' }).click();
    await page.locator('.tab.active', { hasText: 'drill-separable' }).waitFor();
    await page.keyboard.press('Control+s');
    const isSheet = (name) => name.startsWith('drill-');
    const sheets = () => fs.readdirSync(path.join(notes, 'papers')).filter(isSheet);
    await until(() => sheets().length === 1, 'the sheet is saved');
    const sheet = path.join('papers', sheets()[0]);
    await until(() => count(sheet, '@question') === 5, 'the sheet is saved whole');
    assert.equal(count(sheet, '\n  seed: '), 1 + 4);
    const asked = fs.readFileSync(path.join(notes, sheet), 'utf8').split('\n');
    await typeAtEnd(page, asked.findIndex((line) => line.startsWith('  mine:')) + 1, 'y = 0');
    await page.getByText('wrong:', { exact: false }).first().waitFor();
    await picture('marked-at-once');

    // Another problem.
    await open(page, 'waves.porism');
    await find(page, '@problem 1.1.1');
    await palette(page, 'Porism: Another problem like this');
    await page.getByText('with other numbers', { exact: false }).first().waitFor();
    await picture('another');

    // The plan with its reasons, then without, in the same file.
    await palette(page, 'Porism: Plan the days left');
    await rows.filter({ hasText: 'With a reason for each block' }).first().click();
    await page.locator('.tab.active', { hasText: 'plan.porism' }).waitFor();
    await page.getByText('a minute', { exact: false }).first().waitFor();
    await picture('plan');
    await palette(page, 'Porism: Plan the days left');
    await rows.filter({ hasText: 'The best plan' }).click();
    await page.getByText('a minute', { exact: false }).first().waitFor({ state: 'detached' });
    assert.ok((await page.getByText('Plan from', { exact: false }).count()) > 0);

    // The calendar.
    await palette(page, 'Porism: Write the calendar');
    await until(() => fs.existsSync(path.join(notes, 'porism.ics')), 'the calendar is written');

    // A check.
    await palette(page, 'Porism: Explain a check');
    await page.locator('.quick-input-list .monaco-list-row').first().waitFor();
    await picture('checks');
    await page.keyboard.press('Escape');
    console.log(`${step} pictures in ${pictures}`);
  } catch (problem) {
    await picture('failed');
    throw problem;
  } finally {
    await browser.close();
  }
}

async function until(condition, what) {
  const end = Date.now() + PATIENCE;
  while (!(await condition())) {
    if (Date.now() > end) throw new Error(`waited in vain: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

function untilUp(address) {
  return until(() => fetch(address).then((answer) => answer.ok, () => false), 'the server is up');
}

/** The name of the first file in a folder of the notes, once there is one. */
async function file(folder) {
  const whole = path.join(notes, folder);
  await until(() => fs.existsSync(whole) && fs.readdirSync(whole).length > 0, `a file in ${folder}`);
  return path.join(folder, fs.readdirSync(whole)[0]);
}

function count(name, text) {
  return fs.readFileSync(path.join(notes, name), 'utf8').split(text).length - 1;
}

async function open(page, name) {
  await page.keyboard.press('Control+p');
  await page.locator('.quick-input-widget input').fill(name);
  await page.locator('.quick-input-list .monaco-list-row', { hasText: name }).first().click();
  await page.locator('.tab.active', { hasText: name }).waitFor();
  // The first lines may lie below the headers that stick to the top.
  await page.locator('.monaco-editor .view-line').last().click();
}

async function palette(page, title) {
  const input = page.locator('.quick-input-widget input');
  const row = page.locator('.quick-input-list .monaco-list-row', { hasText: title }).first();
  // A document that the server has shown only now closes the palette again.
  await until(async () => {
    await page.keyboard.press('F1');
    const timeout = 5000;
    return input
      .fill(`>${title}`, { timeout })
      .then(() => row.waitFor({ timeout }))
      .then(() => true, () => false);
  }, `the palette offers ${title}`);
  await page.keyboard.press('Enter');
}

async function typeAtEnd(page, line, text) {
  await page.keyboard.press('Control+g');
  const input = page.locator('.quick-input-widget input');
  await input.waitFor();
  await input.fill(`:${line}`);
  await page.locator('.quick-input-list .monaco-list-row', { hasText: `line ${line}` }).waitFor();
  await page.keyboard.press('Enter');
  await input.waitFor({ state: 'hidden' });
  await page.keyboard.press('End');
  await type(page, text);
  await page.keyboard.press('Escape');
}

async function find(page, text) {
  await page.keyboard.press('Control+f');
  const input = page.locator('.find-widget textarea').first();
  await input.waitFor();
  await input.fill(text);
  await page.keyboard.press('Enter');
  await page.keyboard.press('Escape');
}

async function type(page, text) {
  await page.keyboard.type(text, { delay: 15 });
}

main().catch((problem) => {
  console.error(problem);
  process.exitCode = 1;
});
