// Slips that the house rule must catch, and what it must let pass; ESLint's own tester runs them.
// No page code is read here.

import { createRequire } from "node:module";
import path from "node:path";
import rule from "./no_sentences.js";

const root = path.resolve(import.meta.dirname, "../../..");
const { RuleTester } = createRequire(path.join(root, ".venv", "javascript", "package.json"))("eslint");

const tester = new RuleTester({ languageOptions: { ecmaVersion: "latest", sourceType: "module" } });
const refused = (code) => ({ code, errors: [{ messageId: "sentence" }] });

tester.run("no-sentences", rule, {
  valid: [
    'say("phone.day.start");',
    'el("p", { class: "meaning told", id: "tally" }, say("phone.day.empty"));',
    'document.querySelectorAll("main input[type=text], main textarea");',
    'throw new RangeError(`no words for ${code}`);',
    'console.warn("outbox refused:", fault);',
    'drawn("path", { d: `M${x} 11V28` });',
    'button(words, press, { class: "quiet" });',
    'const headers = { "Content-Type": "application/offset+octet-stream" };',
    'const name = `${first} ${last}`;',
    'el("small", null, "%");',
    'import { one } from "./two words.js";',
    { code: 'worker.postMessage("take over");', options: [["take over"]] },
  ],
  invalid: [
    refused('const words = "Nothing to send";'),
    refused('el("p", null, "Saved");'),
    refused('el("p", null, ready ? "Saved" : null);'),
    refused('button("Delete", strike);'),
    refused('tools.tell("Sending");'),
    refused('setText(line, `${count} logged`);'),
    refused('const field = { kind: "text", label: "Registration" };'),
    refused('el("svg", { role: "img", "aria-label": `Signature of ${name}` });'),
    refused('status.textContent = "Sending";'),
    refused('const lines = [`Two entries disagree on ${name}.`];'),
    refused('const way = late && "Wait about a minute";'),
  ],
});
