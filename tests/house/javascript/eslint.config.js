// What ESLint asks of every script: no slip, no long line, no long function, no promise that nobody waits for.
// Which part may touch the store, the network or the screen is not said here; tests/house/test_layers.py holds that.

import { createRequire } from "node:module";
import path from "node:path";
import noSentences from "./no_sentences.js";

const root = path.resolve(import.meta.dirname, "../../..");
const tools = createRequire(path.join(root, ".venv", "javascript", "package.json"));
const eslint = tools("@eslint/js");
const stylistic = tools("@stylistic/eslint-plugin");
const types = tools("typescript-eslint");

const LONGEST_LINE = 120;
const LONGEST_FUNCTION = 60;
const MOST_PARAMETERS = 5;

const rules = {
  "@stylistic/max-len": ["error", { code: LONGEST_LINE, ignoreUrls: true }],
  "max-lines-per-function": ["error", { max: LONGEST_FUNCTION }],
  "max-params": ["error", MOST_PARAMETERS],
  "no-undef": "off", // TypeScript knows better which names there are
  "no-unused-vars": ["error", { args: "after-used" }],
  eqeqeq: "error",
  "no-var": "error",
  "prefer-const": "error",
  "no-implicit-globals": "error",
  "object-shorthand": "error",
  "no-shadow": "error",
};

// What can only be told with the types of `page.json` and `worker.json`.
const typedRules = {
  "@typescript-eslint/no-floating-promises": "error",
  "@typescript-eslint/no-misused-promises": ["error", { checksVoidReturn: false }],
  "@typescript-eslint/await-thenable": "error",
  // Names of the record and the rulebook are written with underscores, and stay so where they are taken apart.
  "@typescript-eslint/naming-convention": [
    "error",
    { selector: "variable", format: ["camelCase", "UPPER_CASE"] },
    { selector: "variable", modifiers: ["destructured"], format: null },
    { selector: ["function", "parameter"], format: ["camelCase"], leadingUnderscore: "allow" },
    { selector: "parameter", modifiers: ["destructured"], format: null },
    { selector: "typeLike", format: ["PascalCase"] },
  ],
};

// Texts of two words that nobody reads, each with what it is.
const CODES = [
  "take over", // what the page tells its worker
  "which files", // what it asks it
  "card customer ", "card customer \uffff", // the names under which the store keeps what is said of customers
];

// A file whose sentences are somebody else's affair, and why.
export default [
  eslint.configs.recommended,
  {
    plugins: { "@stylistic": stylistic },
    languageOptions: { ecmaVersion: "latest", sourceType: "module" },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules,
  },
  {
    files: ["pwa/**/*.js"],
    plugins: { "@typescript-eslint": types.plugin },
    languageOptions: {
      parser: types.parser,
      parserOptions: { project: ["page.json", "worker.json"], tsconfigRootDir: import.meta.dirname },
    },
    rules: typedRules,
  },
  {
    files: ["pwa/**/*.js"],
    plugins: { house: { rules: { "no-sentences": noSentences } } },
    rules: { "house/no-sentences": ["error", CODES] },
  },
];
