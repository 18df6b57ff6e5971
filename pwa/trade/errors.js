// The errors of Layby: one root, one class a cause, a stable code and the offending values.
// Twin of sync/errors.py; no sentence lives here, the wording is rulebook data.

export class LaybyError extends Error {
  constructor(code, values) {
    super(code);
    this.code = code;
    this.values = values;
  }
}

export class OutOfRange extends LaybyError {
  constructor(values) {
    super("out_of_range", values);
  }
}

export class UnknownName extends LaybyError {
  constructor(values) {
    super("unknown_name", values);
  }
}

// What is wrong, where and what to do, in the rulebook's words; the bare code where none is kept.
export function sentence(error, wording) {
  const template = wording.errors === undefined ? undefined : wording.errors[error.code];
  if (template === undefined) return error.code;
  let text = template;
  for (const name of Object.keys(error.values)) text = text.replaceAll("{" + name + "}", String(error.values[name]));
  return text;
}
