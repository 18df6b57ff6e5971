// The digest of a verdict as it is shown, so that the desk can tell whether its sheet says the same.
// Pure but for the hash; nothing is judged here. The same text as sync/kernel/verdict_digest.py: JSON by RFC 8785 (names sorted).

import { sha256Hex } from "../sync/op_line.js";

// Left out: the editions, which travel beside the digest, and what the desk alone works out.
const BESIDE = ["rulebook", "app", "cycle"];

export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join()}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const names = Object.keys(value).sort();
  return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join()}}`;
}

export const verdictDigest = (assessment) =>
  sha256Hex(canonical(Object.fromEntries(Object.entries(assessment).filter(([name]) => !BESIDE.includes(name)))));
