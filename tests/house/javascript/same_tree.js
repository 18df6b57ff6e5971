// `node same_tree.js one.js other.js` fails if the syntax trees of two modules differ.
// Positions in the file don't matter; neither module is run.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";

const root = path.resolve(import.meta.dirname, "../../..");
const { parse } = createRequire(path.join(root, ".venv", "javascript", "package.json"))("espree");

const PLACES = new Set(["start", "end"]);

/** @param {string} file */
function treeOf(file) {
  const tree = parse(readFileSync(file, "utf8"), { ecmaVersion: "latest", sourceType: "module" });
  const text = (value) => (typeof value === "bigint" ? `${value}n` : value);
  return JSON.stringify(tree, (key, value) => (PLACES.has(key) ? undefined : text(value)));
}

const [one, other] = process.argv.slice(2).map(treeOf);
assert.ok(one.length > 100, "the file holds a module");
assert.equal(one, other);
