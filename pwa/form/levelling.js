// Waiting for a test to level: a tap logs the readings as they stand, a thin plot shows the vent, a line says how long.
// DOM only: whether it has levelled is the judgement's; instants are kept, so a frozen page loses no time.

import { button, drawn, el, say } from "./elements.js";

const WIDTH = 284;
const HEIGHT = 64;

function plotOf(trace, speak) {
  const points = trace.filter((point) => point.vent_c !== undefined);
  if (points.length < 2) return null;
  const values = points.map((point) => point.vent_c);
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const span = Math.max(most - least, 1);
  const x = (s) => 4 + ((WIDTH - 70) * (s - points[0].s)) / (points.at(-1).s - points[0].s || 1);
  const y = (value) => 8 + ((HEIGHT - 16) * (most - value)) / span;
  const path = points.map((point, index) => `${index === 0 ? "M" : "L"}${x(point.s).toFixed(1)} ${y(point.vent_c).toFixed(1)}`).join("");
  const last = speak.temperature(values.at(-1));
  const label = drawn("text", { x: WIDTH - 60, y: y(values.at(-1)) + 4 }, last);
  const said = `Vent over ${Math.round((points.at(-1).s - points[0].s) / 60)} minutes: from ${speak.temperature(values[0])} to ${last}.`;
  return drawn("svg", { class: "plot", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": said }, drawn("path", { d: path }), label);
}

function words(levelled, count, speak) {
  if (count === 0) return "Log the readings while they settle; two minutes apart or less.";
  if (levelled === null || levelled === undefined) return "To be judged: vent and high side twice or more, on recirculation the return air too.";
  if (levelled.settled) return "Levelled.";
  const parts = [];
  if (levelled.heading_for !== null) parts.push(`heading for ${speak.temperature(levelled.heading_for)}`);
  if (levelled.wait_s > 0) parts.push(`wait about ${Math.ceil(levelled.wait_s / 60)} min`);
  return ["Not levelled yet", ...parts].join(", ") + ".";
}

// `log()` writes one point of the test's trace; the block is renewed with every look at the readings.
export function levelling(log) {
  const line = el("p", { class: "meaning", role: "status" });
  const plot = el("div");
  const root = el("section", { class: "levelling" }, el("h2", null, "Levelling"), line, plot, button("Log these readings now", log, { class: "quiet" }));
  const refresh = (sight) => {
    const trace = sight.test?.trace ?? [];
    const told = words(sight.judged?.levelled, trace.length, sight.speak);
    say(line, trace.length === 0 ? told : `${trace.length} logged. ${told}`);
    plot.replaceChildren(...[plotOf(trace, sight.speak)].filter((one) => one !== null));
  };
  return { root, refresh };
}
