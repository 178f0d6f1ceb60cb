// The scopes that the TextMate grammar gives to words of some lines.

const assert = require('node:assert');
const fs = require('node:fs');
const path = require('node:path');
const test = require('node:test');
const oniguruma = require('vscode-oniguruma');
const { Registry, parseRawGrammar } = require('vscode-textmate');

const FILE = path.join(__dirname, '..', 'syntaxes', 'porism.tmLanguage.json');

async function grammar() {
  const wasm = fs.readFileSync(require.resolve('vscode-oniguruma/release/onig.wasm'));
  await oniguruma.loadWASM(wasm);
  const registry = new Registry({
    onigLib: Promise.resolve({
      createOnigScanner: (patterns) => new oniguruma.OnigScanner(patterns),
      createOnigString: (text) => new oniguruma.OnigString(text),
    }),
    loadGrammar: async () => parseRawGrammar(fs.readFileSync(FILE, 'utf8'), FILE),
  });
  return registry.loadGrammar('text.porism');
}

/**
 * The innermost scope of each word in the last line.
 */
function check(language, text, expected) {
  let state = null;
  let tokens = [];
  const lines = text.split('\n');
  for (const line of lines) {
    const result = language.tokenizeLine(line, state);
    ({ tokens, ruleStack: state } = result);
  }
  const last = lines.at(-1);
  const found = {};
  for (const word of Object.keys(expected)) {
    const at = last.indexOf(word);
    const token = tokens.find((token) => token.startIndex <= at && at < token.endIndex);
    found[word] = token.scopes.at(-1).replace(/\.porism$/, '');
  }
  assert.deepStrictEqual(found, expected, text);
}

test('colours', async () => {
  const language = await grammar();
  const plain = 'text';
  const math = 'string.other.math';
  const key = 'variable.other.property';
  const date = 'constant.numeric.date';
  const comment = 'comment.line.percentage';
  check(language, '@problem 1.1', { '@': 'keyword.control', problem: 'keyword.control', 1.1: 'markup.heading' });
  check(language, '@prolbem 1.1', { prolbem: plain });
  check(language, '# Waves', { '#': 'punctuation.definition.heading', Waves: 'markup.heading' });
  check(language, '  tried: 2027-02-15 closed wrong, right? $x$', {
    tried: key, 2027: date, closed: 'constant.language', wrong: 'markup.deleted', right: plain, x: math,
  });
  check(language, '  mark: 3/4', { mark: key, '3/4': 'constant.numeric.score' });
  check(language, '  on: 2027-02-26 10:00', { on: key, '10:00': date });
  check(language, '  answer: $x$ % c', { answer: key, x: math, c: comment });
  check(language, '  Note: nothing', { Note: plain });
  check(language, '  Solve $\\frac{a}{2}$ now % soon', {
    Solve: plain, '\\frac': 'support.function.tex', 2: 'constant.numeric.tex', now: plain, soon: comment,
  });
  check(language, 'costs $5 and $6 more, or $x$', { $5: plain, and: plain, more: plain, x: math });
  check(language, '$2 + 2$ is four', { '+': math, four: plain });
  check(language, '\\$5 and $a % b$ c', { '\\$': 'constant.character.escape', and: plain, '%': math, ' c': plain });
  check(language, '% a comment', { comment });
  check(language, '50% of it', { of: plain });
  check(language, '$$ a\n+ b $$ then', { b: math, then: plain });
  check(language, '$$ a\n\ntext', { text: plain });
  check(language, '$$ a\n@topic 1', { topic: 'keyword.control' });
  check(language, '  proof: $$ a\n  tried: 2027-02-15', { tried: key });
});
