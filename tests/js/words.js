/**
 * Every sentence that the app shows, read out of its modules: those that stand in the catalogue, those that stand outside
 * it, and those that would stay in the language of the app's start. Prints JSON; its arguments are TypeScript's module
 * and the app's folder.
 */

import fs from "node:fs";
import path from "node:path";

import { sentencesOf } from "../../pwa/lib/language.js";

const [typescript, app] = process.argv.slice(2);
const ts = (await import(typescript)).default;

// What looks like words and is none: names of headers, parts of a browser, selectors, what is signed or recorded.
const NO_WORDS = new Set([
  "Content-Type",
  "Upload-Offset",
  "Upload-Length",
  "If-None-Match",
  "BarcodeDetector",
  "InvalidStateError",
  "AbortError",
  "QuotaExceededError",
  "Enter",
  "Daybay",
  "Basic {0}",
  "Bearer {0}",
  ".large .flaw",
  "shown circled",
]);
const NO_WORDS_IN = ["sync", "settle", "querySelector", "querySelectorAll", "import"];
const RECORDED = [/^run of operations\n/, /^the release rule and checks of plant revision /, /^\[data-act\], /];

const looksLikeWords = (text) => /\p{L}{2,}\P{L}* \S*\p{L}/u.test(text) || /^\p{Lu}\p{Ll}+/u.test(text);

/** @param {any} node */
const textOf = (node) =>
  ts.isTemplateExpression(node)
    ? node.head.text + node.templateSpans.map((span, place) => `{${place}}${span.literal.text}`).join("")
    : node.text;

/** @param {any} template */
const stringsOf = (template) =>
  ts.isTemplateExpression(template)
    ? [template.head.text, ...template.templateSpans.map((span) => span.literal.text)]
    : [template.text];

/** Whether a template is attributes of an element alone. */
const isAttributes = (template) => /^[a-z-]+(="[^"]*")?( [a-z-]+="[^"]*")*$/.test(textOf(template));

const isText = (node) =>
  ts.isStringLiteral(node) || ts.isNoSubstitutionTemplateLiteral(node) || ts.isTemplateExpression(node);

/** The words of a table: of an object its values, of a list its texts, of a list of lists the second of each. */
function wordsOf(node) {
  if (ts.isParenthesizedExpression(node)) return wordsOf(node.expression);
  if (ts.isObjectLiteralExpression(node)) return node.properties.flatMap((each) => wordsOf(each.initializer));
  if (ts.isArrayLiteralExpression(node))
    return node.elements.flatMap((each) =>
      ts.isArrayLiteralExpression(each) ? wordsOf(each.elements[1]) : wordsOf(each),
    );
  return ts.isStringLiteral(node) ? [node] : [];
}

const found = { words: [], outside: [], frozen: [] };

for (const file of fs.readdirSync(app, { recursive: true, encoding: "utf8" }).sort()) {
  if (!/^(main|lib\/.*|screens\/.*)\.js$/.test(file) || file === "lib/language.js") continue;
  const source = ts.createSourceFile(file, fs.readFileSync(path.join(app, file), "utf8"), ts.ScriptTarget.Latest, true);
  const at = (node) => `${file}:${source.getLineAndCharacterOfPosition(node.getStart()).line + 1}`;
  const told = new Set();
  const note = (node, keys, forms = null) => keys.forEach((key) => found.words.push({ key, at: at(node), forms }));

  const visit = (node, inFunction) => {
    const within = inFunction || ts.isFunctionLike(node);
    const freezes = (keys) => keys.length && !within && found.frozen.push({ key: keys[0], at: at(node) });
    if (ts.isTaggedTemplateExpression(node)) {
      const isMarkup = node.tag.getText() === "html";
      const keys = isMarkup && isAttributes(node.template) ? [] : sentencesOf(stringsOf(node.template), isMarkup);
      note(node, keys);
      freezes(keys);
    } else if (ts.isCallExpression(node)) {
      const callee = node.expression.getText();
      const texts = node.arguments.filter(isText);
      if (callee === "t" && texts.length) {
        note(node, [texts[0].text]);
        freezes([texts[0].text]);
        told.add(texts[0]);
      } else if (callee === "counted") {
        note(node, [texts[1].text], [texts[0].text, texts[1].text]);
        freezes([texts[1].text]);
        told.add(texts[0]).add(texts[1]);
      } else if (callee === "inWords") {
        const words = node.arguments.flatMap(wordsOf);
        words.forEach((each) => told.add(each) && note(each, [each.text]));
      }
      if (NO_WORDS_IN.includes(callee.split(".").at(-1))) texts.forEach((each) => told.add(each));
    } else if (isText(node) && !told.has(node) && !ts.isTaggedTemplateExpression(node.parent)) {
      const text = textOf(node);
      const isNone =
        NO_WORDS.has(text) || RECORDED.some((each) => each.test(text)) || ts.isImportDeclaration(node.parent);
      if (!isNone && looksLikeWords(text)) found.outside.push({ key: text, at: at(node) });
    }
    ts.forEachChild(node, (child) => visit(child, within));
  };
  visit(source, false);
}
console.log(JSON.stringify(found));
