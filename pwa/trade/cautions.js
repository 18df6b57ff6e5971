// Which cautions fit a visit: by vehicle, by refrigerant, by work; what is not known counts as the worse case.
// Twin of sync/kernel/cautions.py; the cautions and when they fit are rulebook data, nothing here is confirmed or shown.

import { absent, partOf } from "./inputs.js";

function holds(visit, condition) {
  if (condition.list !== undefined) {
    const items = absent(visit[condition.list]) ? [] : visit[condition.list];
    return items.some((item) => condition.codes.includes(absent(item.code) ? item.kind : item.code));
  }
  const [section, name] = condition.field.split(".");
  const value = partOf(visit, section)[name];
  return condition.in.includes(absent(value) ? null : value);
}

export function cautionsFor(visit, rulebook) {
  const found = [];
  for (const caution of rulebook.cautions.cautions) {
    if (caution.when.some((group) => group.every((condition) => holds(visit, condition)))) {
      found.push({ code: caution.code, text: caution.text });
    }
  }
  return found;
}
