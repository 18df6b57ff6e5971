// ESLint's rules for every script: no slips, no long lines, no long functions, no promise left unawaited.
// Which part may touch the store, the network or the screen is checked in tests/house/test_layers.py, not here.

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
  "no-undef": "off", // TypeScript knows better which names exist
  "no-unused-vars": ["error", { args: "after-used" }],
  eqeqeq: "error",
  "no-var": "error",
  "prefer-const": "error",
  "no-implicit-globals": "error",
  "object-shorthand": "error",
  "no-shadow": "error",
};

// Rules that need the types of `page.json` and `worker.json`.
const typedRules = {
  "@typescript-eslint/no-floating-promises": "error",
  "@typescript-eslint/no-misused-promises": ["error", { checksVoidReturn: false }],
  "@typescript-eslint/await-thenable": "error",
  // Names in the record and the rulebook have underscores and keep them when destructured.
  "@typescript-eslint/naming-convention": [
    "error",
    { selector: "variable", format: ["camelCase", "UPPER_CASE"] },
    { selector: "variable", modifiers: ["destructured"], format: null },
    { selector: ["function", "parameter"], format: ["camelCase"], leadingUnderscore: "allow" },
    { selector: "parameter", modifiers: ["destructured"], format: null },
    { selector: "typeLike", format: ["PascalCase"] },
  ],
};

// Strings of two words that no person reads, and what each is.
const CODES = [
  "take over", // what the page tells its worker
  "which files", // what the page asks the worker
  "card customer ", "card customer \uffff", // the store's keys for customers' cards
];

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
