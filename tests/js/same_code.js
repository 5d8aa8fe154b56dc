/**
 * Prints, of pairs of scripts by name in a JSON file, the names of those that are not the same code but for comments.
 */

import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const typescript = createRequire(import.meta.url)("typescript");

/** @param {string} script */
function printed(script) {
  const compilerOptions = { removeComments: true, target: "esnext", module: "esnext" };
  return typescript.transpileModule(script, { compilerOptions }).outputText;
}

const pairs = Object.entries(JSON.parse(readFileSync(process.argv[2], "utf8")));
console.log(JSON.stringify(pairs.filter(([, [one, other]]) => printed(one) !== printed(other)).map(([name]) => name)));
