// `node same_meaning.js one.js other.js` fails if two modules differ in more than the names of their own variables.
// Both are parsed and their scopes analyzed; positions in the file don't matter. Nothing is run.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";

const root = path.resolve(import.meta.dirname, "../../..");
const require = createRequire(path.join(root, ".venv", "javascript", "package.json"));
const { parse } = require("espree");
const { analyze } = require("eslint-scope");

// A shorthand such as `{ name }` means the same as `{ name: name }`.
const PLACES = new Set(["start", "end", "range", "shorthand"]);
const OPTIONS = { ecmaVersion: 2024, sourceType: "module" };

/** The module as text, each of its own variables replaced by its definition's number. @param {string} file */
function meaningOf(file) {
  const tree = parse(readFileSync(file, "utf8"), { ...OPTIONS, range: true });
  const numbers = numbersOf(analyze(tree, OPTIONS));
  let named = 0;
  const told = JSON.stringify(tree, (key, value) => {
    if (PLACES.has(key)) return undefined;
    if (typeof value === "bigint") return `${value}n`;
    if (value?.type === "Property" && !value.computed) return { ...value, key: value.key.name ?? value.key.raw };
    if (value?.type !== "Identifier" || !numbers.has(place(value))) return value;
    named += 1;
    return { type: "Identifier", number: numbers.get(place(value)) };
  });
  return { told, named };
}

/** @param {{ range: number[] }} node */
const place = (node) => node.range.join("-");

/** The variable's number for each place that names it, for all that the module defines. @param {any} scopes */
function numbersOf(scopes) {
  const numbers = new Map();
  const variables = scopes.scopes.flatMap((scope) => scope.variables.filter((one) => one.identifiers.length > 0));
  const first = (variable) => Math.min(...variable.identifiers.map((one) => one.range[0]));
  variables.sort((one, other) => first(one) - first(other)).forEach((variable, number) => {
    const uses = variable.references.map((reference) => reference.identifier);
    for (const node of [...variable.identifiers, ...uses]) numbers.set(place(node), number);
  });
  return numbers;
}

const [one, other] = process.argv.slice(2).map(meaningOf);
assert.ok(one.named > 5, "the file holds a module with variables of its own");
if (one.told !== other.told) {
  const at = [...one.told].findIndex((sign, index) => sign !== other.told[index]);
  assert.fail(`they differ: ${one.told.slice(at - 400, at + 100)}\n\nand\n\n${other.told.slice(at - 400, at + 100)}`);
}
