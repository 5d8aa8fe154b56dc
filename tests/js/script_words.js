/**
 * Texts of the pages' scripts that look like words and are not said: prints them as JSON, each with its file and line.
 * Its arguments are TypeScript's module and the folder of the scripts.
 */

import fs from "node:fs";
import path from "node:path";

const [typescript, scripts] = process.argv.slice(2);
const ts = (await import(typescript)).default;

// What looks like words and is none: names of keys, selectors, what the browser keeps a drawing under.
const NO_WORDS = [
  /^(Arrow\w+|Home|End|Enter|Escape|Insert|Delete)$/,
  /^input, select, textarea$|\[data-/,
  /^\(min-width: /,
  /^zones \{0\}/,
  /^table-tools no-print$/,
];
const SAID = ["say", "sayMany"];

const looksLikeWords = (text) => /\p{L}{2,}\P{L}* \S*\p{L}/u.test(text) || /^\p{Lu}\p{Ll}+/u.test(text);

/** @param {any} node */
const textOf = (node) =>
  ts.isTemplateExpression(node)
    ? node.head.text + node.templateSpans.map((span, place) => `{${place}}${span.literal.text}`).join("")
    : node.text;

const isText = (node) =>
  ts.isStringLiteral(node) || ts.isNoSubstitutionTemplateLiteral(node) || ts.isTemplateExpression(node);

/** Text that the browser shows wherever it stands: what is put into an element, or into what is read out of it. */
function isShown(node) {
  const { parent } = node;
  if (ts.isConditionalExpression(parent) && node !== parent.condition) return isShown(parent);
  return ts.isBinaryExpression(parent) && /\.(textContent|placeholder|title|alt)$/.test(parent.left.getText());
}

const outside = [];
for (const file of fs.readdirSync(scripts, { recursive: true, encoding: "utf8" }).sort()) {
  if (!file.endsWith(".js")) continue;
  const text = fs.readFileSync(path.join(scripts, file), "utf8");
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.Latest, true);
  const visit = (node) => {
    if (isText(node) && !ts.isImportDeclaration(node.parent)) {
      const words = textOf(node);
      const isSaid = ts.isCallExpression(node.parent) && SAID.includes(node.parent.expression.getText());
      const isNone = NO_WORDS.some((each) => each.test(words));
      const isWord = looksLikeWords(words) || (isShown(node) && /\p{L}/u.test(words));
      if (!isSaid && !isNone && isWord) {
        outside.push({ text: words, at: `${file}:${source.getLineAndCharacterOfPosition(node.getStart()).line + 1}` });
      }
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
}
console.log(JSON.stringify(outside));
